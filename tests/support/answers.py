"""The answers to readings as a grammar: what one who listens to the bench expects to hear."""

from __future__ import annotations

import random
import re
from collections.abc import Sequence

from handsfree.understand import Automaton, cardinal_words
from handsfree.understand.automaton import Builder

CYLINDERS = ("one", "two", "three", "four", "five", "six", "seven", "eight")
RINGS = ("top", "second")
PARTS = ("and a half", "and a quarter", "and three quarters")
DIGITS = (*CYLINDERS, "nine")
_SMALL = ("half a thou", "a quarter of a thou", "three quarters of a thou")
_NUMBERS = {
    *(word for value in range(1, 100) for word in cardinal_words(value)),
    *("half", "quarter", "quarters", "point", "zero"),
}


def words_of(text: str) -> list[str]:
    """Return the words of an answer as it is written.

    >>> words_of("One top, thirty-one. Don't file; try it in seven top.")[:6]
    ['one', 'top', 'thirty', 'one', "don't", 'file']
    """
    kept = "".join(letter if letter.isalpha() or letter == "'" else " " for letter in text.lower())
    return kept.split()


def sentences_of(text: str) -> list[str]:
    """Split an answer where the voice pauses; it doesn't between a size and "good".

    >>> sentences_of("One top, nine. Good. Two top.")
    ['One top, nine Good', ' Two top']
    """
    return re.findall(r"[^.;?!]+", re.sub(r"\.(?= Good\b)", "", text))


def numbers_in(text: str) -> list[str]:
    """Return the words that numbers are made of, places among them; "point five" is a half.

    >>> numbers_in("Two top, fourteen and a half. File three point five.")
    ['two', 'fourteen', 'half', 'three', 'half']
    """
    return [word for word in words_of(text.replace("point five", "half")) if word in _NUMBERS]


def made_up(draw: random.Random) -> str:
    """Make up a normal answer to a reading, of all the kinds there are."""
    place, other = (f"{draw.choice(CYLINDERS)} {draw.choice(RINGS)}" for _ in range(2))
    size, another, before = (_amount(draw, 9, 99) for _ in range(3))
    size = draw.choice((*[size] * 8, f"under {size}", f"{size} or more", f"{size}, was {another}"))
    over = _left(draw, 30)
    return draw.choice(("", "", "", "", "Corrected. ")) + draw.choice(
        (
            *[f"{place.capitalize()}, {size}. File {_left(draw, 20)}."] * 5,
            f"{place.capitalize()}, {size}. Good. Next, {other}.",
            f"{place.capitalize()}, {size}. Over by {over}. Don't file; try it in another bore, or replace.",
            f"{place.capitalize()}, {size}. Over by {over}. Don't file; try it in {other}.",
            f"{place.capitalize()}, {size}. {before.capitalize()} before, and a gap only grows. "
            "Measure again.",
            f"{place.capitalize()}, {size}. Not settled; try the next leaf.",
            f"{place.capitalize()}, {another}? Yes or no.",
            f"{place.capitalize()}, {another}, or {before}?",
            f"{place.capitalize()}, {another}, or {before}, or {_amount(draw, 9, 99)}?",
            f"{another.capitalize()}, or {before}?",
        )
    )


def _amount(draw: random.Random, low: int, high: int) -> str:
    whole = "-".join(cardinal_words(draw.randint(low, high)))
    tenths = f"{whole} point {draw.choice(DIGITS)}"
    parts = f"{whole} {draw.choice(PARTS)}"
    return draw.choice((whole, whole, whole, tenths, tenths, parts, f"{tenths} {draw.choice(DIGITS)}"))


def _left(draw: random.Random, high: int) -> str:
    below_one = draw.choice((*_SMALL, f"zero point {draw.choice(DIGITS)} thou"))
    return draw.choice((below_one, *[_amount(draw, 1, high)] * 5))


class _Answers(Builder):
    """Joins the parts of answers; each method joins two states."""

    def either(self, source: int, target: int, phrases: Sequence[str]) -> None:
        for phrase in phrases:
            self.phrase(source, target, phrase.split())

    def then(self, source: int, phrase: str) -> int:
        after = self.state()
        self.phrase(source, after, phrase.split())
        return after

    def place(self, source: int, target: int) -> None:
        ring = self.state()
        self.either(source, ring, CYLINDERS)
        self.either(ring, target, RINGS)

    def amount(self, source: int, target: int) -> None:
        whole, point, tenths, hundredths = (self.state() for _ in range(4))
        for value in range(1, 100):
            self.phrase(source, whole, cardinal_words(value))
        self.free(whole, target)
        self.either(whole, target, PARTS)
        self.phrase(whole, point, ["point"])
        self.phrase(source, point, ["zero", "point"])
        self.either(point, tenths, DIGITS)
        self.free(tenths, target)
        self.either(tenths, hundredths, DIGITS)
        self.free(hundredths, target)
        self.either(hundredths, target, DIGITS)
        self.phrase(tenths, target, ["thou"])
        self.either(source, target, _SMALL)

    def size(self, source: int, target: int) -> None:
        under, more = self.state(), self.state()
        self.amount(source, more)
        self.free(more, target)
        self.phrase(more, target, ["or", "more"])
        self.phrase(source, under, ["under"])
        self.amount(under, target)


def grammar_of_beginnings() -> Automaton:
    """Hold the first sentence of a normal answer to a reading, or the one after "Corrected"."""
    made = _Answers()
    start, size, was, judged, first, another, final = (made.state() for _ in range(7))
    made.phrase(start, final, ["corrected"])
    made.place(start, size)
    made.size(size, was)
    made.free(was, judged)
    made.size(made.then(was, "was"), judged)
    made.free(judged, final)
    made.phrase(judged, final, ["good"])
    made.amount(start, first)  # "Nine, or nineteen?", "One top, nine, or nineteen?"
    for after in (was, first):
        made.amount(made.then(after, "or"), another)
    made.free(another, final)
    made.amount(made.then(another, "or"), final)
    return made.build(start, final)


def grammar_of_verdicts() -> Automaton:
    """Hold each of the sentences that come after it, by itself."""
    made = _Answers()
    start, before, final = (made.state() for _ in range(3))
    for opening in ("file", "over by"):
        made.amount(made.then(start, opening), final)
    for opening in ("next", "try it in"):
        made.place(made.then(start, opening), final)
    made.amount(start, before)
    made.phrase(before, final, words_of("before, and a gap only grows"))
    for sentence in (
        *("good", "yes or no", "measure again", "not settled", "try the next leaf"),
        *("don't file", "try it in another bore or replace"),
    ):
        made.phrase(start, final, words_of(sentence))
    return made.build(start, final)
