"""The mouth: a thread that renders answers and plays them, one after the other.

How late the bench's own voice comes back into its microphone.

A sound server, a wireless loudspeaker or a busy machine may delay sound for longer than its device reports.
If the microphone hears the answers, the beginning of each shows the delay; the ears stay shut for that time
after its end.
"""

from __future__ import annotations

import queue
import threading
import time
from collections import deque
from collections.abc import Callable
from statistics import median

import numpy as np

from handsfree.devices import HasVolume, Player
from handsfree.errors import SoundError
from handsfree.hear import SAMPLERATE_HZ, Samples
from handsfree.live.events import Spoken
from handsfree.recordings import level_db, to_sound
from handsfree.speak import (
    HasPace,
    Reply,
    Sound,
    Tone,
    Voice,
    VoiceChange,
    render_after_tone,
    render_answer,
    silence,
    tone,
)

_BEFORE_CUE_S = 0.04
PACE_STEP = 1.15
VOLUME_STEP = 1.41
"""Step of one "faster" and one "louder": noticeable, undone by its opposite (common practice, no source)."""


class Mouth:
    """Speaks answers and reports the end of each to `sink`.

    Args:
        voice: renders the words; None for tones alone.
        player: plays the sound.
        sink: takes a `Spoken` for each answer; called from the mouth's thread.
        tones: play a tone before the words.
        cue: play a tick after them, if the ears are shut until then.
    """

    def __init__(
        self,
        voice: Voice | None,
        player: Player,
        sink: Callable[[Spoken], object],
        *,
        tones: bool = True,
        cue: bool = False,
    ) -> None:
        self._voice = voice
        self._player = player
        self._sink = sink
        self._tones = tones
        self._cue = cue
        self._jobs: queue.SimpleQueue[Reply | None] = queue.SimpleQueue()
        self._thread = threading.Thread(target=self._run, name="mouth", daemon=True)
        self._thread.start()

    def say(self, reply: Reply) -> None:
        """Queue an answer."""
        self._jobs.put(reply)

    def tick(self) -> None:
        """Tick for a key press, unless an answer is being spoken."""
        if self._jobs.empty():
            self._jobs.put(Reply("", tone=Tone.TICK))

    def wake(self) -> None:
        """Warm up the device. Thread-safe."""
        self._player.wake()

    def hush(self) -> None:
        """Stop in mid-sentence."""
        self._player.stop()

    def close(self) -> None:
        """Stop, and release voice and player."""
        self._jobs.put(None)
        self._player.stop()
        self._thread.join(timeout=5)
        self._player.close()
        if self._voice is not None:
            self._voice.close()

    def _run(self) -> None:
        while (reply := self._jobs.get()) is not None:
            if reply.tone is Tone.TICK:
                self._tick()
            else:
                self._sink(self._say(reply))

    def _say(self, reply: Reply) -> Spoken:
        """Play the tone while the words are synthesised, then play the words."""
        if reply.change is not None:
            self._change(reply.change)
        began = time.monotonic()
        voice_fault: str | None = None
        then: Callable[[], Sound] | None = None
        if self._tones and reply.tone is not Tone.NONE:
            sound = tone(reply.tone)

            def then() -> Sound:
                nonlocal voice_fault
                words, voice_fault = render_after_tone(reply, self._voice)
                return self._cued(words)

        else:
            sound, voice_fault = render_answer(reply, self._voice, tones=False)
            sound = self._cued(sound)
        took = time.monotonic() - began
        try:
            played = self._player.play(sound, reply.text, then)
        except SoundError as fault:
            return Spoken(reply, None, voice_fault, str(fault), took)
        return Spoken(reply, played, voice_fault, render_s=took)

    def _cued(self, sound: Sound) -> Sound:
        """Append the tick for open ears, unless another answer follows."""
        if not self._cue or not self._jobs.empty():
            return sound
        rate = sound.samplerate_hz
        parts = [sound.samples, silence(_BEFORE_CUE_S, rate), tone(Tone.OPEN, rate).samples]
        return Sound(np.concatenate(parts), rate)

    def _change(self, change: VoiceChange) -> None:
        """Change rate or volume; a player without volume stays as it is."""
        match change:
            case VoiceChange.FASTER | VoiceChange.SLOWER if isinstance(self._voice, HasPace):
                self._voice.pace(PACE_STEP if change is VoiceChange.FASTER else 1 / PACE_STEP)
            case VoiceChange.LOUDER | VoiceChange.QUIETER if isinstance(self._player, HasVolume):
                self._player.turn(VOLUME_STEP if change is VoiceChange.LOUDER else 1 / VOLUME_STEP)
            case _:
                pass

    def _tick(self) -> None:
        try:
            self._player.play(tone(Tone.TICK))
        except SoundError:
            return  # the next answer reports it


_PIECE = SAMPLERATE_HZ // 100
_KEPT_S = 60.0  # longer than any answer
_BEFORE_S = 0.3  # for the level of the room before the answer
_LATEST_S = 1.0  # anything later is the user's speech
_RISE_DB = 12.0
_LONG_S = 0.05  # shortest loud sound that is not a click
_ANSWERS = 3


class Echo:
    """Follows the microphone while the ears are shut."""

    def __init__(self) -> None:
        self._levels: deque[tuple[float, float]] = deque()  # when a piece ended, and its level
        self._late: deque[float] = deque(maxlen=_ANSWERS)

    @property
    def late_s(self) -> float:
        """The delay of the last answer's end at the microphone; 0 if no answer was ever heard."""
        return max(self._late[-1], median(self._late)) if self._late else 0.0

    def hear(self, samples: Samples, at_s: float) -> None:
        """Take (n,) int16, 16 kHz mono; `at_s`: when the last of them was captured."""
        sound = to_sound(samples)
        for end in range(_PIECE, len(sound) + 1, _PIECE):
            when = at_s - (len(sound) - end) / SAMPLERATE_HZ
            self._levels.append((when, level_db(sound[end - _PIECE : end])))
        while self._levels and self._levels[0][0] < at_s - _KEPT_S:
            self._levels.popleft()

    def played(self, began_at: float) -> None:
        """Learn from an answer whose first sample left the device at that time."""
        before = [level for when, level in self._levels if began_at - _BEFORE_S <= when < began_at]
        after = [(when, level) for when, level in self._levels if began_at <= when < began_at + _LATEST_S]
        self._levels.clear()
        if not before or not after:
            return
        loud = np.array([level for _, level in after]) > median(before) + _RISE_DB
        needed = round(_LONG_S * SAMPLERATE_HZ / _PIECE)
        for start in range(len(loud) - needed + 1):
            if loud[start : start + needed].all():
                self._late.append(max(0.0, after[start][0] - _PIECE / SAMPLERATE_HZ - began_at))
                return
