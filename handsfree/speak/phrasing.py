"""From positions, lengths and phrase names to sentences: the ground that all wording stands on.

Many places in few words: "three to eight top" instead of six names.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from decimal import ROUND_DOWN, Decimal
from itertools import pairwise

from handsfree.length import Length, Unit
from handsfree.plan import PART, Position
from handsfree.speak.amount import (
    Amount,
    Between,
    Bound,
    Side,
    amount_words,
    cardinal,
    hundredths_words,
    speakable,
    units_of,
)
from handsfree.speak.phrasebook import Phrasebook, shipped_phrasebook
from handsfree.speak.reply import Reply, Tone, Verbosity

_SENTENCE_START = re.compile(r"(^|[.?!]\s+)([a-z])")


def sentence_case(text: str) -> str:
    """Begin every sentence with a capital.

    >>> sentence_case("three top, eighteen. file two.")
    'Three top, eighteen. File two.'
    """
    return _SENTENCE_START.sub(lambda found: found[1] + found[2].upper(), text)


def label_words(label: str) -> str:
    """Say a label: its whole numbers in words, the rest as written.

    >>> label_words("3"), label_words("oil rail"), label_words("3B"), label_words("2 left")
    ('three', 'oil rail', 'three B', 'two left')
    """
    parts = re.findall(r"\d+|[^\d\s]+", label)
    said = " ".join(cardinal(int(part)) if part.isdecimal() and len(part) < 6 else part for part in parts)
    return said.replace(" ,", ",")


def place_words(position: Position, *, full: bool = False) -> str:
    """Say a position the way a bench does: "three top", "cylinder three", "three main, left".

    A number that shares its position with a word needs no axis name; two numbers both do, and a
    number on its own does. In full, every label goes with its axis.

    >>> place_words(Position.of({"cylinder": "3", "ring": "top"}))
    'three top'
    >>> place_words(Position.of({"cylinder": "3"}))
    'cylinder three'
    >>> place_words(Position.of({"cylinder": "3", "valve": "2"}))
    'cylinder three valve two'
    >>> place_words(Position.of({"cylinder": "3", "ring": "top"}), full=True)
    'cylinder three top ring'
    >>> place_words(Position.of({"main": "3", "part": "journal"}))
    'main three journal'
    """
    if len(position.labels) > 1 and position.labels[-1][0] == PART:  # the whole, then the part
        whole = place_words(Position(position.labels[:-1]), full=full)
        return f"{whole} {label_words(position.labels[-1][1])}"
    numbers = sum(label[:1].isdecimal() for _, label in position.labels)
    bare = numbers == 1 and len(position.labels) > 1
    words = []
    for axis, label in position.labels:
        said = label_words(label)
        if label[:1].isdecimal():
            words.append(said if bare and not full else f"{axis} {said}")
        else:
            words.append(f"{said} {axis}" if full and axis not in said else said)
    return " ".join(words)


def listed(items: Sequence[str], word: str = "and", most: int | None = None) -> str:
    """Join items for the ear, naming at most `most` of them.

    >>> listed(["three top", "four top", "four second"])
    'three top, four top and four second'
    >>> listed(["a", "b", "c", "d"], most=2)
    'a, b and two more'
    """
    if most is not None and len(items) > most + 1:
        items = [*items[:most], f"{cardinal(len(items) - most)} more"]
    return items[0] if len(items) == 1 else f"{', '.join(items[:-1])} {word} {items[-1]}"


class Phrasing:
    """Fills phrases. Pure: the same arguments give the same sentence.

    Args:
        verbosity: how much to say.
        unit: the session's unit; terse and normal answers omit it unless another unit occurs.
        book: the phrases; the shipped ones by default.
    """

    def __init__(
        self,
        verbosity: Verbosity = Verbosity.NORMAL,
        unit: Unit = Unit.THOU,
        book: Phrasebook | None = None,
    ) -> None:
        self.verbosity = verbosity
        self.unit = unit
        self.book = shipped_phrasebook() if book is None else book

    def place(self, position: Position) -> str:
        """Say a position at this verbosity."""
        return place_words(position, full=self.verbosity is Verbosity.FULL)

    def value(self, amount: Amount, beside: Iterable[Amount] = (), *, brief: bool = False) -> str:
        """Say a reading exactly, with its unit where the session's unit could be assumed by mistake.

        Args:
            amount: the reading.
            beside: the other amounts of the same answer; if one has another unit, all units are
                said.
            brief: "eighteen half" in terse answers.
        """
        return amount_words(
            amount,
            unit=self._unit_needed(amount, *beside),
            digit_check=self.verbosity is Verbosity.FULL,
            brief=brief and self.verbosity is Verbosity.TERSE,
        )

    def computed(self, amount: Amount, beside: Iterable[Amount] = (), rounding: str = ROUND_DOWN) -> str:
        """Say a computed amount, shortened with "about" where it has too many digits for the ear."""
        unit = self._unit_needed(amount, *beside)
        match amount:
            case Length():
                shorter, dropped = speakable(amount, rounding)
                if dropped and shorter.value == 0:
                    least = Length(Decimal(1).scaleb(_exponent(shorter.value)), amount.unit)
                    return amount_words(Bound(Side.UNDER, least), unit=unit)
                words = hundredths_words(shorter, unit=unit) or amount_words(shorter, unit=unit)
                return f"about {words}" if dropped else words
            case Bound(side, limit):
                return amount_words(Bound(side, speakable(limit, rounding)[0]), unit=unit)
            case Between(low, high):
                ends = Between(speakable(low, rounding)[0], speakable(high, rounding)[0])
                return amount_words(ends, unit=unit)

    def sentence(self, name: str, **fields: str) -> str:
        """Return one filled phrase, not yet capitalised.

        Raises:
            KeyError: no such phrase, or a field that it uses is missing. A fault of the program.
        """
        return self.book[name].fill(self.verbosity, fields)

    def tone(self, name: str) -> Tone:
        """Return the tone of a phrase."""
        return self.book[name].tone

    def reply(
        self, name: str, *after: str, expects: tuple[str, ...] = (), detail: str | None = None, **fields: str
    ) -> Reply:
        """Make a reply of one phrase and the sentences that follow it.

        detail: shown after the sentence and not spoken.
        """
        return self.joined(
            [self.sentence(name, **fields), *after], self.tone(name), expects=expects, detail=detail
        )

    def joined(
        self,
        sentences: Iterable[str | None],
        tone: Tone,
        *,
        expects: tuple[str, ...] = (),
        detail: str | None = None,
        aloud: Iterable[str | None] | None = None,
    ) -> Reply:
        """Make a reply of several sentences, leaving out the empty ones.

        Args:
            sentences: shown, and spoken too unless `aloud` is given.
            tone: played before the words.
            expects: phrases that would answer a question.
            detail: shown after the sentences and not spoken.
            aloud: the sentences to speak, if fewer than those shown.
        """
        text = _one_text(sentences)
        spoken = text if aloud is None else _one_text(aloud)
        shown = f"{text} ({detail})" if detail else text
        return Reply(shown, spoken=None if spoken == shown else spoken, tone=tone, expects=expects)

    def end(self, next_check: str | None) -> str:
        """Return the sentence that nothing is left to measure here; next_check: a check with work left."""
        return self.sentence("check_done", check=next_check) if next_check else self.sentence("all_done")

    def ends(self, next_check: str | None) -> tuple[str, str]:
        """Return that sentence as shown, and as spoken after a reading."""
        return self.end(next_check), self.end(next_check) if next_check else self.sentence("all_done_aloud")

    def _unit_needed(self, *amounts: Amount) -> bool:
        if self.verbosity is Verbosity.FULL:
            return True
        return any(units_of(amount) - {self.unit} for amount in amounts)


def _one_text(sentences: Iterable[str | None]) -> str:
    """Join sentences. A sentence that ends in a comma continues into the next; the last gets a full stop."""
    text = " ".join(sentence for sentence in sentences if sentence)
    return sentence_case(f"{text[:-1]}." if text.endswith(",") else text)


def _exponent(value: Decimal) -> int:
    exponent = value.as_tuple().exponent
    assert isinstance(exponent, int)  # noqa: S101 - it came out of quantize
    return exponent


@dataclass(frozen=True, slots=True)
class Gathered:
    """Places that differ in one number, combined under one label; `count` is their number."""

    position: Position
    count: int


def gathered(positions: Iterable[Position]) -> list[Gathered]:
    """Combine places that differ only in their first number, in order of first occurrence.

    >>> tops = [Position.of({"cylinder": str(number), "ring": "top"}) for number in (3, 4, 5, 7)]
    >>> gathered([*tops, Position.of({"cylinder": "1", "ring": "second"})])[0].position.labels
    (('cylinder', '3 to 5 and 7'), ('ring', 'top'))
    """
    kinds: dict[tuple[tuple[str, str], ...], list[tuple[Position, int]]] = {}
    found: list[list[tuple[Position, int]]] = []
    for position in positions:
        at = next((n for n, (_, label) in enumerate(position.labels) if label.isdecimal()), None)
        if at is None:
            found.append([(position, 0)])
            continue
        axis = position.labels[at][0]
        kind = (*position.labels[:at], (axis, ""), *position.labels[at + 1 :])
        if kind not in kinds:
            kinds[kind] = []
            found.append(kinds[kind])
        kinds[kind].append((position, at))
    return [_one(group) for group in found]


def _one(group: Sequence[tuple[Position, int]]) -> Gathered:
    position, at = group[0]
    if len(group) == 1:
        return Gathered(position, 1)
    axis = position.labels[at][0]
    label = runs([each.labels[at][1] for each, _ in group])
    return Gathered(Position((*position.labels[:at], (axis, label), *position.labels[at + 1 :])), len(group))


def runs(labels: Sequence[str]) -> str:
    """Write whole numbers as ranges; other labels stay single.

    >>> runs(["3", "4", "5", "7"]), runs(["1", "2"]), runs(["8", "1"]), runs(["2B", "3"])
    ('3 to 5 and 7', '1 and 2', '1 and 8', '2B and 3')
    """
    if not all(label.isdecimal() for label in labels):
        return _listed(list(labels))
    numbers = sorted(int(label) for label in labels)
    starts = [0, *(n + 1 for n, (one, other) in enumerate(pairwise(numbers)) if other != one + 1)]
    parts = []
    for first, after in zip(starts, [*starts[1:], len(numbers)], strict=True):
        run = numbers[first:after]
        parts += [f"{run[0]} to {run[-1]}"] if len(run) > 2 else [str(number) for number in run]
    return _listed(parts)


def _listed(parts: Sequence[str]) -> str:
    return parts[0] if len(parts) == 1 else f"{', '.join(parts[:-1])} and {parts[-1]}"
