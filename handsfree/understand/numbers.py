"""From spoken numbers to exact decimals, and back to the grammar's words.

The grammar gives each number word a tag. This module reads only the tags, so that the words
are kept in one file. Slots: n and u are the parts of a cardinal (twenty two: n-20 u-2),
d is a digit said by itself, p the point, q and r two decimals said as one number ("point twenty
five"), f a fraction, short the bare "five" of "eighteen five", scale "hundredths".
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from decimal import Decimal
from fractions import Fraction

from handsfree.length import SMALL, TENS, Length, Unit, lowest_form, millimetres_per

NUMBER_SLOTS = frozenset({"h", "n", "u", "d", "p", "q", "r", "f", "short", "scale", "sign"})

_FEW_DIGITS = 3  # more digits are a size without its spoken point
_FRACTIONS = {"half": Decimal("0.5"), "quarter": Decimal("0.25"), "three-quarters": Decimal("0.75")}


def cardinal_words(number: int) -> list[str]:
    """Say a whole number from 1 to 99 in the grammar's words.

    >>> cardinal_words(42)
    ['forty', 'two']
    """
    if not 1 <= number <= 99:
        raise ValueError(f"{number} is outside 1 to 99, the range that the grammar says in words")
    if number < len(SMALL):
        return [SMALL[number]]
    tens, unit = divmod(number, 10)
    return [TENS[tens], *([SMALL[unit]] if unit else [])]


def digit_words(digits: str) -> list[str]:
    """Say digits one by one.

    >>> digit_words("05")
    ['zero', 'five']
    """
    return [SMALL[int(digit)] for digit in digits]


@dataclass(frozen=True, slots=True)
class Amount:
    """One interpretation of a spoken number.

    sure: False for a shorthand that must be asked about even if nothing else is plausible.
    instead: considered only if the plain one is implausible, and then both are asked about.
    unit: the unit implied by this interpretation, if no unit word was said.
    """

    value: Decimal
    sure: bool = True
    instead: bool = False


@dataclass(frozen=True, slots=True)
class SpokenNumber:
    """A number as spoken, before its unit is known.

    amounts: every interpretation of the digits. pointed: without a whole part ("point oh one
    eight", "oh one eight"), as inch readings are said. whole: no decimals, no fraction.
    tenths_only: "five tenths", without a whole part. hundredths: "forty five hundredths".
    """

    amounts: tuple[Amount, ...]
    pointed: bool = False
    whole: bool = False
    tenths_only: bool = False
    hundredths: bool = False


def spoken_number(tags: Sequence[tuple[str, str]]) -> SpokenNumber:
    """Compose a number from its tags (slot and value) in spoken order.

    >>> [str(a.value) for a in spoken_number([("n", "20"), ("u", "2"), ("f", "half")]).amounts]
    ['22.5']
    >>> [str(a.value) for a in spoken_number([("d", "1"), ("d", "8")]).amounts]
    ['18', '1.8']
    >>> [str(a.value) for a in spoken_number([("sign", "minus"), ("u", "2"), ("f", "half")]).amounts]
    ['-2.5']
    """
    if tags and tags[0][0] == "sign":
        # "minus" is a sign. "Below" is asked about: for a deck, some people say it for plus.
        size, sure = spoken_number(tags[1:]), tags[0][1] == "minus"
        return replace(
            size,
            amounts=tuple(replace(each, value=-each.value, sure=each.sure and sure) for each in size.amounts),
        )
    slots = [slot for slot, _ in tags]
    cut = slots.index("p") if "p" in slots else len(tags)
    head, tail = tags[:cut], tags[cut + 1 :]
    fraction, head = _take_fraction(head)
    cardinal = sum(int(value) * (100 if slot == "h" else 1) for slot, value in head if slot in "hnu")
    digits = "".join(value for slot, value in head if slot == "d")
    decimals = _decimals(tail)
    hundredths = "scale" in slots
    if digits.startswith("0"):
        text = decimals if cut < len(tags) else digits[1:]
        leading = f"0.{text}" if cut < len(tags) else f"0.0{text}"
        return SpokenNumber((_pointed(leading),), pointed=True)
    if "p" in slots and not digits and not cardinal:
        return SpokenNumber((_pointed(f"0.{decimals}"),), pointed=True)
    if decimals:
        return SpokenNumber((Amount(Decimal(f"{digits or cardinal}.{decimals}")),))  # spoken zeros are kept
    if fraction is not None:
        whole = Decimal(digits or cardinal)
        return SpokenNumber((Amount(lowest_form(whole + fraction)),), tenths_only=_tenths(tags) and not whole)
    if "short" in slots:
        short = dict(tags)["short"]
        return SpokenNumber(
            (
                Amount(Decimal(f"{cardinal}.{short}"), sure=False),
                Amount(Decimal(f"{cardinal}{short}"), sure=False),
            )
        )
    if len(digits) > _FEW_DIGITS:
        # "four oh three oh": the point goes where the window of the part allows exactly one size
        cuts = [f"{digits[:cut]}.{digits[cut:]}" for cut in range(1, len(digits))]
        return SpokenNumber(tuple(Amount(lowest_form(Decimal(text))) for text in (digits, *cuts)))
    if len(digits) > 1:
        decimal = lowest_form(Decimal(f"{digits[:-1]}.{digits[-1]}"))
        other = Amount(decimal) if len(digits) > 2 else Amount(decimal, sure=False, instead=True)
        return SpokenNumber((Amount(Decimal(digits)), other), whole=True)
    if hundredths:
        return SpokenNumber((Amount(lowest_form(Decimal(cardinal).scaleb(-2))),), hundredths=True)
    return SpokenNumber((Amount(lowest_form(Decimal(digits or cardinal))),), whole=True)


def _pointed(text: str) -> Amount:
    """Return a decimal with no whole part. Zero ("oh oh oh") is asked about: cries are heard as it."""
    value = Decimal(text)
    return Amount(value, sure=value != 0)


def _take_fraction(head: Sequence[tuple[str, str]]) -> tuple[Decimal | None, Sequence[tuple[str, str]]]:
    """Split a fraction off the end of a number's whole part."""
    if not head or head[-1][0] != "f":
        return None, head
    name = head[-1][1]
    if name == "tenths":
        return Decimal(head[-2][1]).scaleb(-1), head[:-2]
    return _FRACTIONS[name], head[:-1]


def _tenths(tags: Sequence[tuple[str, str]]) -> bool:
    return ("f", "tenths") in tags


def _decimals(tail: Sequence[tuple[str, str]]) -> str:
    pair = sum(int(value) for slot, value in tail if slot in "qr")
    return f"{pair:02d}" if pair else "".join(value for slot, value in tail if slot == "d")


@dataclass(frozen=True, slots=True)
class Sized:
    """A possible length of a spoken number, and whether it is accepted without asking."""

    length: Length
    sure: bool
    instead: bool = False


def lengths(spoken: SpokenNumber, unit: Unit | None, default: Unit) -> tuple[Sized, ...]:
    """Return every possible length of a spoken number.

    A spoken unit decides. Without one the check's own unit holds, except for forms that people use
    across units: those give two lengths, and a window or a question decides. Nothing is scaled
    silently.

    Args:
        spoken: the number.
        unit: the spoken unit, or None.
        default: the unit of the check in hand.
    """
    found: list[Sized] = []
    for amount in spoken.amounts:
        if spoken.hundredths and unit is None:
            found.append(Sized(Length(amount.value, Unit.MM), amount.sure))
            if default in (Unit.THOU, Unit.INCH):
                found.append(Sized(_in_check_unit(amount.value, default), amount.sure))
        elif unit is not None:
            found.append(Sized(Length(amount.value, unit), amount.sure, amount.instead))
        elif default is Unit.THOU and spoken.pointed:
            found.append(Sized(_in_check_unit(amount.value, default), amount.sure))
            found.append(Sized(Length(amount.value, Unit.THOU), amount.sure))
        elif default is Unit.MM and spoken.tenths_only:
            found.append(Sized(Length(amount.value, Unit.MM), sure=False))
            found.append(Sized(Length(amount.value, Unit.THOU), sure=False))
        elif default is Unit.MM and spoken.whole:
            found.append(Sized(Length(amount.value, Unit.MM), amount.sure, amount.instead))
            found.append(Sized(Length(lowest_form(amount.value.scaleb(-2)), Unit.MM), sure=False))
        else:
            found.append(Sized(Length(amount.value, default), amount.sure, amount.instead))
    return tuple(dict.fromkeys(found))


def _in_check_unit(inches: Decimal, default: Unit) -> Length:
    """Return an inch reading in the unit of an inch check: exact, a move of the point."""
    if default is Unit.THOU:
        return Length(lowest_form(inches.scaleb(3)), Unit.THOU)
    return Length(inches, Unit.INCH)


def plausible(candidates: Sequence[Sized], window: tuple[Length, Length] | None) -> tuple[Sized, ...]:
    """Keep the candidates inside an inclusive window; the plain one when there is no window.

    A single candidate is never judged by the window: a window may choose between meanings of an
    ambiguous form, but it never rejects a plain value and never repairs one. If only a substitute
    of the plain candidate is inside, both are returned, unsure.
    """
    plain = [c for c in candidates if not c.instead]
    if window is None or len(candidates) < 2:
        return tuple(plain)
    low, high = window
    inside = [c for c in candidates if _mm(low) <= _mm(c.length) <= _mm(high)]
    if any(not c.instead for c in inside):
        return tuple(c for c in inside if not c.instead)
    if inside:
        return tuple(Sized(c.length, sure=False) for c in (*plain, *inside))
    return tuple(plain) if len(plain) == 1 else ()


def _mm(length: Length) -> Fraction:
    return Fraction(length.value) * millimetres_per(length.unit)
