"""The silence that ends an utterance, from its words so far."""

from __future__ import annotations

from dataclasses import dataclass

from handsfree.hear import Timing
from handsfree.understand import Automaton, ChangeCheck, Control, Decision, Meaning, Move, Outcome, Word

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
