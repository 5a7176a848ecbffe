"""From frames to hearings: the endpointer and the recogniser, working at the same time.

Decoding begins at the first short silence. If speech goes on it is given up; if not, its words
say how much more silence is needed, and are ready when the utterance ends.

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
"""Begins to decode at once when the voice ends, so that the words are known when their silence has passed."""


@dataclass(frozen=True, slots=True, eq=False)
class Done:
    """An utterance is over and its words are known. `torn`: sound was lost in it.

    ended_at_s: stream time of the last speech. endpoint_s: how much of the stream had been heard
    when its end was certain.
    """

    utterance: Utterance
    hearing: Hearing | None
    fault: str | None
    torn: bool
    endpoint_s: float


class Decoding(Protocol):
    """Words that are being worked out elsewhere."""

    def cancel(self) -> object:
        """Say that nobody waits for them any more."""


Submit = Callable[[Utterance], Decoding]
Judge = Callable[[Hearing], float]


class Listener:
    """Follows one stream of sound.

    Not thread-safe: frames and decoded utterances come from the same loop.

    Args:
        submit: starts decoding an utterance elsewhere; its result comes back by `decoded`.
        patience: gives, for what was heard so far, the silence in ms that ends the utterance.
        timing: how long the endpointer waits.
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
        """Whether an utterance is over and its words aren't known yet."""
        return bool(self._ended)

    def frame(self, samples: Samples) -> tuple[bool, list[Done]]:
        """Take (n,) int16 at 16 kHz. Tells whether speech began, and gives what is done."""
        started = self._follow(self.endpointer.feed(samples))
        return started, self._done()

    def decoded(self, result: Decoded) -> list[Done]:
        """Take a result; late ones, of speech that went on, are dropped."""
        key = id(result.utterance)
        if self._running.pop(key, None) is None:
            return []
        self._results[key] = result
        if result.hearing is not None and not any(key == id(ended) for ended, _, _ in self._ended):
            ended = self.endpointer.hold(self._patience(result.hearing))
            self._follow([ended] if ended else [])
        return self._done()

    def skip(self, count: int) -> None:
        """Let samples pass unheard; an utterance in hand is forgotten."""
        self._forget_running()
        self._torn = False
        self.endpointer.skip(count)

    def tear(self) -> bool:
        """Say that sound was lost; tells whether it was in the middle of an utterance."""
        self._torn = self.endpointer.speaking
        return self._torn

    def restart(self) -> None:
        """Begin anew with another stream."""
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


# Words that a number may well go on after: "twenty ... two" isn't twenty, "one ... eight" isn't one.
_TENS = frozenset({"twenty", "thirty", "forty", "fifty", "sixty", "seventy", "eighty", "ninety"})
_DIGITS = frozenset(
    {"zero", "oh", "one", "two", "three", "four", "five", "six", "seven", "eight", "nine"}
    | {"tree", "fower", "fife", "niner"}
)
_PARTS = frozenset({"and", "point", "decimal"})  # "forty three ... and a half" isn't forty three
_OPEN_WORDS = frozenset({Word.CORRECTION})  # a value is still to come


@dataclass(frozen=True, slots=True)
class Patience:
    """Decides how long to wait for more, from the words that were heard so far.

    timing: the lengths of silence to choose from.
    """

    timing: Timing

    def after(self, words: tuple[str, ...], decision: Decision, automaton: Automaton) -> float:
        """Give the silence, in ms, that ends the utterance.

        Shortest for a command that nothing can follow that would change its number; short for any other
        whole one; long for one that lacks something, as a place without its reading; in between where
        a number is likely to go on or nothing is certain. A doubtful command is asked about anyway: it
        waits a little longer than a sure one, and never as long as one that lacks something.
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
            # digits come in an even row; a number's first word is more often followed late
            in_a_row = words[-1] in _DIGITS and before in _DIGITS | _PARTS
            return self.timing.digits_ms if in_a_row else self.timing.end_ms
        return self.timing.complete_ms if following & (_PARTS | _DIGITS) else self.timing.closed_ms
