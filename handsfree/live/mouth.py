"""The mouth: a thread that renders answers and plays them, one after the other."""

from __future__ import annotations

import queue
import threading
import time
from collections.abc import Callable

import numpy as np

from handsfree.devices import HasVolume, Player
from handsfree.errors import SoundError
from handsfree.live.events import Spoken
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
