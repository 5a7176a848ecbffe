"""Listening outside a session: phrases read aloud, and the phrase of `handsfree check --listen`.

Phrases are read one after the other, each ended by its silence. The check is a tone, a phrase, its
repetition, and a report on the microphone.
"""

from __future__ import annotations

import queue
import time
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from enum import StrEnum

import numpy as np

from handsfree.devices import (
    QUIET_DB,
    Frame,
    Microphone,
    MicrophoneEvent,
    MicrophoneFound,
    MicrophoneLost,
    MicrophoneReport,
    Overflow,
    Player,
    SoundPlayer,
    measure,
)
from handsfree.errors import SoundError, VoiceError
from handsfree.hear import SAMPLERATE_HZ, Ended, Endpointer, Samples, Timing
from handsfree.recordings import active_level_db, to_sound
from handsfree.speak import EngineVoice, Reply, Sound, Tone, Voice, render_answer, tone
from handsfree.understand import Outcome

PHRASE = "cylinder three top, eighteen thou"
_PLAN = """
format = 1
name = "check"
[engine]
name = "eight cylinders"
[[check]]
name = "ring gaps"
rule = "file to gap"
unit = "thou"
[check.axes]
cylinder = 8
ring = ["top", "second"]
[[check.target]]
aim = "18 thou"
plus = "1.5 thou"
"""
_ROOM_S = 1.5
_PHRASE_S = 12.0
_START_S = 8.0
_TAIL_S = 0.3


def listen_check(
    player: Player,
    voice: Voice | None,
    device: str | None,
    out: Callable[[str], object],
    words: Callable[[Samples], str | None] | None = None,
) -> bool:
    """Try loudspeaker and microphone with the user's help; return whether they are good enough.

    words: returns the words recognised in a phrase; None skips that test.

    Raises:
        SoundError: there is no microphone, or no speech.
    """
    loud = _say_what_to_do(player, voice, out)
    found: queue.SimpleQueue[MicrophoneEvent] = queue.SimpleQueue()
    with Microphone(found.put, device):
        out(f"Microphone: {wait_for_sound(found)}")
        time.sleep(_TAIL_S)
        room = _room(found)
        if loud:
            player.play(tone(Tone.ASK))
        out(f'Say now: "{PHRASE}"')
        phrase, overflows = _phrase(found)
    if loud:
        out("Heard this:")
        player.play(Sound(phrase, SAMPLERATE_HZ), "what was heard")
    report = measure(room, phrase)
    for line in report_lines(report, overflows):
        out(line)
    understood = words is None or say_what_was_understood(words(phrase), out)
    return loud and understood and not report.advice and not overflows


def say_what_was_understood(heard: str | None, out: Callable[[str], object]) -> bool:
    """Print the recognised words; return False if they mean something other than the requested ones."""
    wanted = PHRASE.replace(",", "")
    same = heard in (wanted, wanted.removesuffix(" thou"))  # the plan is in thou, so the meaning is the same
    if same:
        out(f'Understood: "{heard}".')
    elif heard:
        out(f'Understood: "{heard}". That isn\'t the sentence that was asked for; say "{PHRASE}".')
    else:
        out(f'No sentence of the bench was understood; say "{PHRASE}", close to the microphone.')
    return same


def recognised(phrase: Samples) -> str | None:
    """Return the words that the embedded recogniser hears in (n,) int16; None if it can't accept any."""
    from handsfree.bench import Bench
    from handsfree.ears import Recognisers
    from handsfree.hear import Utterance
    from handsfree.journal import Journal
    from handsfree.planfile import parse_plan

    plan = parse_plan(_PLAN, "the check's plan")
    bench = Bench(plan, Journal.in_memory(), Recognisers(plan))
    bench.open()
    hearing = bench.recognise(Utterance(phrase, 0.0, len(phrase) / SAMPLERATE_HZ))
    sure = bench.weigh(hearing).outcome is Outcome.ACCEPT
    return " ".join(hearing.words) if sure else None


def run_listen_check(device: str | None, output: str | None, out: Callable[[str], object]) -> bool:
    """Create the player and the voice, and run the check with them."""
    with SoundPlayer(output) as player, EngineVoice() as voice:
        return listen_check(player, voice, device, out, recognised)


def report_lines(report: MicrophoneReport, overflows: int = 0) -> list[str]:
    """Return a report in sentences."""
    lines = [
        f"Your voice: {report.speech_db:.0f} dB, peaks at {report.peak_db:.0f} dB (full scale is 0)",
        f"The room: {report.floor_db:.0f} dB, {report.snr_db:.0f} dB below your voice",
        f"The microphone is {report.fitness.value}.",
        *report.advice,
    ]
    if overflows:
        lines.append(f"Sound was lost {overflows} times: close other programs, or try another device.")
    return lines


def _say_what_to_do(player: Player, voice: Voice | None, out: Callable[[str], object]) -> bool:
    out("A tone and a sentence should be heard now.")
    reply = Reply(f"After the tone, say: {PHRASE}.", tone=Tone.DONE)
    try:
        answer = render_answer(reply, voice)
        player.play(answer.sound, reply.text)
    except (SoundError, VoiceError) as fault:
        out(f"Loudspeaker: {fault}")
        return False
    if answer.fault:
        out(f"Voice: {answer.fault}")
    return True


def wait_for_sound(found: queue.SimpleQueue[MicrophoneEvent]) -> str:
    """Wait until a microphone delivers sound, and return its name.

    Raises:
        SoundError: there is none.
    """
    try:
        while True:
            match found.get(timeout=_START_S):
                case MicrophoneFound(device, samplerate_hz):
                    return f"{device}, {samplerate_hz / 1000:g} kHz"
                case MicrophoneLost(why):
                    raise SoundError(f"no microphone: {why}; plug one in, or choose another with --device")
    except queue.Empty:
        raise SoundError("no microphone answers; plug one in, or choose another with --device") from None


def _room(found: queue.SimpleQueue[MicrophoneEvent]) -> Samples:
    while not found.empty():
        found.get()  # the sound of our own sentence
    pieces: list[Samples] = []
    while sum(map(len, pieces)) < _ROOM_S * SAMPLERATE_HZ:
        event = found.get(timeout=_START_S)
        if isinstance(event, Frame):
            pieces.append(event.samples)
    return np.concatenate(pieces)


def _phrase(found: queue.SimpleQueue[MicrophoneEvent]) -> tuple[Samples, int]:
    ears = Endpointer()
    overflows = 0
    until = time.monotonic() + _PHRASE_S
    while time.monotonic() < until:
        try:
            event = found.get(timeout=1)
        except queue.Empty:
            continue
        if isinstance(event, Overflow):
            overflows += 1
        elif isinstance(event, MicrophoneLost):
            raise SoundError(f"the microphone went away: {event.why}; plug it in and try again")
        elif isinstance(event, Frame):
            for happened in ears.feed(event.samples):
                if isinstance(happened, Ended):
                    return happened.utterance.samples, overflows
    raise SoundError("nobody was heard; speak closer to the microphone, or choose another with --device")


_PATIENCE_S = 12.0  # for the user to begin
_AROUND_S = 0.8  # of room sound kept before and after speech, so that it can be endpointed again
_TIMING = Timing(end_ms=900)  # reading aloud has longer pauses than speech at the bench


class Trouble(StrEnum):
    """The reason for asking for a phrase once more."""

    SILENT = "Nothing was heard."
    QUIET = "That was very quiet: come closer, or speak up."
    TORN = "Sound was lost in it."


@dataclass(frozen=True, slots=True, eq=False)
class Take:
    """The recording of a phrase: (n,) int16 at 16 kHz, empty if nothing was heard."""

    samples: Samples
    trouble: Trouble | None = None


class Takes:
    """Records phrases from the microphone in turn; a context manager.

    Args:
        device: number or part of the name of an input device; None takes the default.
        patience_s: time for the user to begin.
        command: the command line of the microphone process, for tests.
    """

    def __init__(
        self,
        device: str | None = None,
        patience_s: float = _PATIENCE_S,
        command: Sequence[str] | None = None,
    ) -> None:
        self._events: queue.SimpleQueue[MicrophoneEvent] = queue.SimpleQueue()
        self._microphone = Microphone(self._events.put, device, command=command)
        self._ears = Endpointer(_TIMING)
        self._patience_s = patience_s
        self.device = ""
        """The device's name, once it is open."""

    def __enter__(self) -> Takes:
        """Begin to listen.

        Raises:
            SoundError: there is no microphone.
        """
        self._microphone.start()
        try:
            self.device = wait_for_sound(self._events)
        except BaseException:
            self._microphone.stop()
            raise
        return self

    def __exit__(self, *exc: object) -> None:
        self._microphone.stop()

    def take(self, show: Callable[[], object]) -> Take:
        """Show a phrase and return the recording of its utterance.

        Raises:
            SoundError: the microphone has gone.
        """
        self._pass_over_what_waits()
        began_s = self._ears.time_s
        show()
        pieces: list[Samples] = []
        torn = False
        begin_by = time.monotonic() + self._patience_s
        while self._ears.speaking or time.monotonic() < begin_by:
            try:
                event = self._events.get(timeout=0.2)
            except queue.Empty:
                continue
            if isinstance(event, MicrophoneLost):
                raise SoundError(f"the microphone went away: {event.why}; plug it in and begin again")
            if isinstance(event, Overflow):
                torn = torn or self._ears.speaking
            elif isinstance(event, Frame):
                pieces.append(event.samples)
                for happened in self._ears.feed(event.samples):
                    if isinstance(happened, Ended):
                        return _taken(np.concatenate(pieces), happened, began_s, torn)
        return Take(np.zeros(0, np.int16), Trouble.SILENT)

    def _pass_over_what_waits(self) -> None:
        passed = 0
        while not self._events.empty():
            event = self._events.get()
            if isinstance(event, MicrophoneLost):
                raise SoundError(f"the microphone went away: {event.why}; plug it in and begin again")
            passed += len(event.samples) if isinstance(event, Frame) else 0
        self._ears.skip(passed)


def trouble_with(samples: Samples) -> Trouble | None:
    """Return whether a phrase, (n,) int16 at 16 kHz, is too quiet to score."""
    return Trouble.QUIET if active_level_db(to_sound(samples)) < QUIET_DB else None


def _taken(heard: Samples, ended: Ended, began_s: float, torn: bool) -> Take:
    spoken = ended.utterance
    begin = round((spoken.start_s - began_s - _AROUND_S) * SAMPLERATE_HZ)
    end = round((spoken.end_s - began_s + _AROUND_S) * SAMPLERATE_HZ)
    trouble = Trouble.TORN if torn else trouble_with(spoken.samples)
    return Take(heard[max(0, begin) : max(0, end)], trouble)
