"""From frames to hearings: the endpointer and the recogniser, which work in parallel.

Decoding begins at the first short silence. It is cancelled if speech resumes. Otherwise its words
determine how much more silence is needed, and are ready when the utterance ends.

How much silence ends an utterance, now that its words are known.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass
from typing import Protocol

from handsfree.hear import (
    Ended,
    Endpointer,
    EndpointEvent,
    Hearing,
    Pause,
    Resumed,
    Samples,
    SpeechStarted,
    Timing,
    Utterance,
)
from handsfree.live.events import Decoded
from handsfree.understand import Automaton, ChangeCheck, Control, Decision, Meaning, Move, Outcome, Word

LIVE_TIMING = Timing(pause_ms=32)
"""Starts decoding as soon as speech stops, so that the words are known when the silence has passed."""


@dataclass(frozen=True, slots=True, eq=False)
class Done:
    """A finished utterance with its words. `torn`: some of its sound was lost.

    ended_at_s: stream time of the last speech. endpoint_s: stream time at which the endpoint was
    certain.
    """

    utterance: Utterance
    hearing: Hearing | None
    fault: str | None
    torn: bool
    endpoint_s: float


class Decoding(Protocol):
    """A decoding that runs elsewhere."""

    def cancel(self) -> object:
        """Cancel the decoding."""


Submit = Callable[[Utterance], Decoding]
Judge = Callable[[Hearing], float]


class Listener:
    """Follows one stream of sound.

    Not thread-safe: frames and decoded utterances come from the same loop.

    Args:
        submit: starts decoding an utterance elsewhere; the result arrives by `decoded`.
        patience: returns the silence in ms that ends the utterance, from its words so far.
        timing: the endpointer's timing.
    """

    def __init__(self, submit: Submit, patience: Judge, timing: Timing = LIVE_TIMING) -> None:
        self._submit = submit
        self._patience = patience
        self._timing = timing
        self._results: dict[int, Decoded] = {}
        self._running: dict[int, Decoding] = {}
        self._ended: list[tuple[Utterance, bool, float]] = []
        self._torn = False
        self.endpointer = Endpointer(timing)

    @property
    def speaking(self) -> bool:
        """Whether somebody is speaking."""
        return self.endpointer.speaking

    @property
    def thinking(self) -> bool:
        """Whether a finished utterance is still being decoded."""
        return bool(self._ended)

    def frame(self, samples: Samples) -> tuple[bool, list[Done]]:
        """Take (n,) int16 at 16 kHz; return whether speech began, and the finished utterances."""
        started = self._follow(self.endpointer.feed(samples))
        return started, self._done()

    def decoded(self, result: Decoded) -> list[Done]:
        """Take a result; results of cancelled decodings are dropped."""
        key = id(result.utterance)
        if self._running.pop(key, None) is None:
            return []
        self._results[key] = result
        if result.hearing is not None and not any(key == id(ended) for ended, _, _ in self._ended):
            ended = self.endpointer.hold(self._patience(result.hearing))
            self._follow([ended] if ended else [])
        return self._done()

    def skip(self, count: int) -> None:
        """Skip samples; an unfinished utterance is discarded."""
        self._forget_running()
        self._torn = False
        self.endpointer.skip(count)

    def tear(self) -> bool:
        """Note that sound was lost; return whether it was in the middle of an utterance."""
        self._torn = self.endpointer.speaking
        return self._torn

    def restart(self) -> None:
        """Start again with another stream."""
        self._forget_running()
        self._ended = []
        self._torn = False
        self.endpointer = Endpointer(self._timing)

    def _follow(self, events: Iterable[EndpointEvent]) -> bool:
        started = False
        for event in events:
            match event:
                case SpeechStarted():
                    started = True
                case Pause(utterance):
                    self._decode(utterance)
                case Resumed():
                    self._forget_running()
                case Ended(utterance):
                    self._ended.append((utterance, self._torn, self.endpointer.time_s))
                    self._torn = False
                    if id(utterance) not in self._results and id(utterance) not in self._running:
                        self._decode(utterance)
        return started

    def _decode(self, utterance: Utterance) -> None:
        self._running[id(utterance)] = self._submit(utterance)

    def _forget_running(self) -> None:
        wanted = {id(utterance) for utterance, _, _ in self._ended}
        for key in [key for key in self._running if key not in wanted]:
            self._running.pop(key).cancel()
        self._results = {key: result for key, result in self._results.items() if key in wanted}

    def _done(self) -> list[Done]:
        done = []
        while self._ended and id(self._ended[0][0]) in self._results:
            utterance, torn, endpoint_s = self._ended.pop(0)
            result = self._results.pop(id(utterance))
            done.append(Done(utterance, result.hearing, result.fault, torn, endpoint_s))
        return done


# A number may continue after these words: "twenty ... two" isn't twenty, "one ... eight" isn't one.
_TENS = frozenset({"twenty", "thirty", "forty", "fifty", "sixty", "seventy", "eighty", "ninety"})
_DIGITS = frozenset(
    {"zero", "oh", "one", "two", "three", "four", "five", "six", "seven", "eight", "nine"}
    | {"tree", "fower", "fife", "niner"}
)
_PARTS = frozenset({"and", "point", "decimal"})  # "forty three ... and a half" isn't forty three
_OPEN_WORDS = frozenset({Word.CORRECTION})  # a value follows


@dataclass(frozen=True, slots=True)
class Patience:
    """Chooses the length of the final silence from the words heard so far.

    timing: the lengths of silence to choose from.
    """

    timing: Timing

    def after(self, words: tuple[str, ...], decision: Decision, automaton: Automaton) -> float:
        """Return the silence, in ms, that ends the utterance.

        Shortest for a command whose number no further word can change; short for any other complete
        command; long for an incomplete one, such as a place without its reading; in between if a number
        is likely to continue or nothing is certain. A doubtful command is asked about anyway: it waits
        a little longer than a sure one, but not as long as an incomplete one.
        """
        if decision.outcome is Outcome.IGNORE or decision.meaning is None:
            return self.timing.end_ms
        wait_ms = self._of_command(words, decision.meaning, automaton)
        if decision.outcome is Outcome.ASK:
            return min(max(wait_ms, self.timing.digits_ms), self.timing.end_ms)
        return wait_ms

    def _of_command(self, words: tuple[str, ...], meaning: Meaning, automaton: Automaton) -> float:
        last = meaning.commands[-1]
        if isinstance(last, Move | ChangeCheck) or (isinstance(last, Control) and last.word in _OPEN_WORDS):
            return self.timing.incomplete_ms
        if isinstance(last, Control) and last.word is not Word.NEGATIVE:  # "next" and "next one" are the same
            return self.timing.closed_ms
        before = words[-2] if len(words) > 1 else ""
        closed = words[-1] in _DIGITS and before in _TENS  # "twenty two"
        following = automaton.next_words(words)
        if not closed and words[-1] in _TENS | _DIGITS and following & _DIGITS:
            # digits come at an even pace; a number's first word is more often followed late
            in_a_row = words[-1] in _DIGITS and before in _DIGITS | _PARTS
            return self.timing.digits_ms if in_a_row else self.timing.end_ms
        return self.timing.complete_ms if following & (_PARTS | _DIGITS) else self.timing.closed_ms
