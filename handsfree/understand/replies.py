"""The possible replies to an open question, as a grammar of their own.

A question names the few meanings in doubt, so the next words are first sought among those alone:
each candidate in short or in full, and the procedure words. Every reply is also a phrase of the
check's grammar with the same meaning, so this search can only leave phrases out.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from functools import cached_property
from itertools import product

from handsfree.length import Length, Unit, plain
from handsfree.understand.automaton import Automaton, Builder
from handsfree.understand.numbers import cardinal_words, digit_words

Words = tuple[str, ...]

_NAMED = 100  # numbers below it have words of their own
_FRACTIONS = {"5": ("half",), "25": ("quarter",), "75": ("three", "quarters")}
_PARTS: dict[str, tuple[Words, ...]] = {
    "5": (("half", "a"), ("a", "half"), ("one", "half")),
    "25": (("quarter", "of", "a"), ("a", "quarter"), ("one", "quarter")),
    "75": (("three", "quarters"), ("three", "quarters", "of", "a")),
}
_UNIT_WORDS: dict[Unit, tuple[Words, ...]] = {
    Unit.THOU: (("thou",), ("thousandths",), ("thousandths", "of", "an", "inch")),
    Unit.INCH: (("inch",), ("inches",)),
    Unit.MM: (("millimetre",), ("millimetres",)),
    Unit.MICRON: (("microns",),),
}


@dataclass(frozen=True)
class Replies:
    """The phrases that may answer a question. question: the id of the event that asked it."""

    question: str
    phrases: frozenset[Words]

    @cached_property
    def automaton(self) -> Automaton:
        """The phrases as an automaton without tags; the check's automaton has the meanings."""
        grown = Builder()
        start, final = grown.state(), grown.state()
        after: dict[Words, int] = {(): start}
        for phrase in sorted(self.phrases):
            for end in range(1, len(phrase) + 1):
                if phrase[:end] not in after:
                    after[phrase[:end]] = grown.state()
                    grown.phrase(after[phrase[: end - 1]], after[phrase[:end]], phrase[end - 1 : end])
            grown.free(after[phrase], final)
        return grown.build(start, final)


@dataclass(frozen=True, slots=True)
class ReplyThresholds:
    """Thresholds for accepting a reply at once; otherwise the whole grammar is searched.

    behind: maximum lead of free decoding, summed over the whole utterance. It is no mean over the words:
        "sixty and a half thou" explains all words but one of "sixteen and a half thou", and that word
        leaves it 4 behind (tests/measure/replies.py; the nearest wrong one was 1.4 behind).
    margin: the lead over the next best reply of another meaning.
    slowest, fastest: range of paces at which nothing can have been missed.
    """

    behind: float = 0.7
    margin: float = 2.5
    slowest: float = 0.7
    fastest: float = -0.9


REPLY_THRESHOLDS = ReplyThresholds()


def settles(
    behind: float, margin: float, pace: float, thresholds: ReplyThresholds = REPLY_THRESHOLDS
) -> bool:
    """Return whether a reply explains the sound so well that no other search is needed.

    behind: log-likelihood lead of free decoding. margin: lead over the next reply. pace: logarithm of
    the ratio of the sound's duration to the expected duration of the words.
    """
    return (
        behind <= thresholds.behind
        and margin >= thresholds.margin
        and thresholds.fastest <= pace <= thresholds.slowest
    )


def ways_to_say(length: Length) -> Iterator[Words]:
    """Yield the spoken forms of a size: with and without its unit, in words and by digits.

    The caller checks whether a grammar has a form, with that size as its meaning.

    >>> from decimal import Decimal
    >>> [" ".join(words) for words in ways_to_say(Length(Decimal(18), Unit.THOU))][:3]
    ['eighteen', 'eighteen thou', 'eighteen thousandths']
    """
    units = ((), *_UNIT_WORDS[length.unit])
    return (number + unit for number, unit in product(_number_words(length), units))


def said_number(label: str) -> Words:
    """Return the words of a numeric label by itself; empty unless it is a number below a hundred.

    >>> said_number("12"), said_number("top")
    (('twelve',), ())
    """
    return tuple(cardinal_words(int(label))) if label.isdecimal() and 0 < int(label) < _NAMED else ()


def phrases_of(automaton: Automaton) -> frozenset[Words]:
    """List every phrase of an automaton without loops."""
    found: set[Words] = set()
    todo: list[tuple[frozenset[int], Words]] = [(automaton.begin, ())]
    while todo:
        states, words = todo.pop()
        if automaton.final in states:
            found.add(words)
        following = sorted({word for state in states for word, _ in automaton.word_arcs[state]})
        todo += [(automaton.step(states, word), (*words, word)) for word in following]
    return frozenset(found)


def _number_words(length: Length) -> Iterator[Words]:
    text = plain(abs(length.value))
    sign: Words = ("minus",) if length.value < 0 else ()
    whole, _, decimals = text.partition(".")
    for head in _whole_words(int(whole)):
        for tail in _decimal_words(decimals):
            yield sign + head + tail
    if whole == "0":
        yield from (sign + part for part in _part_words(decimals))


def _whole_words(number: int) -> Iterator[Words]:
    if number == 0:
        yield from ((), ("zero",), ("oh",))
        return
    if number < _NAMED:
        yield tuple(cardinal_words(number))
    elif number < 10 * _NAMED:
        hundreds, rest = divmod(number, _NAMED)
        for begun in ((*cardinal_words(hundreds), "hundred"), *([("a", "hundred")] if hundreds == 1 else [])):
            yield from (
                [(*begun, *joint, *cardinal_words(rest)) for joint in ((), ("and",))] if rest else [begun]
            )
    if number > 9:
        yield from _by_digits(str(number))


def _decimal_words(decimals: str) -> Iterator[Words]:
    if not decimals:
        yield ()
        return
    if decimals in _FRACTIONS:
        yield ("and", *(() if decimals == "75" else ("a",)), *_FRACTIONS[decimals])
    if len(decimals) == 1:
        yield ("and", *cardinal_words(int(decimals)), "tenths")
    for point in ("point", "decimal"):
        yield from ((point, *digits) for digits in _by_digits(decimals))
        if len(decimals) == 2 and decimals[0] != "0":
            yield (point, *cardinal_words(int(decimals)))


def _part_words(decimals: str) -> Iterator[Words]:
    """Yield the forms of a fraction below one: "half a thou"."""
    yield from _PARTS.get(decimals, ())
    if len(decimals) == 1:
        tenths = (*cardinal_words(int(decimals)), "tenths")
        yield from (tenths, (*tenths, "of", "a"))
        if decimals == "1":
            yield from (("a", "tenth"), ("a", "tenth", "of", "a"))


def _by_digits(text: str) -> Sequence[Words]:
    words = tuple(digit_words(text))
    return [words, tuple("oh" if word == "zero" else word for word in words)] if "0" in text else [words]
