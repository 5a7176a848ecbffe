"""Lengths, bounds and intervals as words, with or without their unit."""

from __future__ import annotations

from dataclasses import dataclass
from decimal import ROUND_DOWN, Decimal
from enum import StrEnum

from handsfree.length import Length, Unit, plain
from handsfree.speak.numbers import digits, number_words, sounds_like_another


class Side(StrEnum):
    """On which side of a leaf the true value lies, and whether the leaf's own size is included."""

    UNDER = "under"
    AT_MOST = "at most"
    OVER = "over"
    AT_LEAST = "at least"


@dataclass(frozen=True, slots=True)
class Bound:
    """A value known only to lie on one side of `limit`, as a no-go or a go leaf shows."""

    side: Side
    limit: Length


@dataclass(frozen=True, slots=True)
class Between:
    """A value known to lie between two lengths, as a go and a no-go leaf show together."""

    low: Length
    high: Length


Amount = Length | Bound | Between

_BOUNDS = {
    Side.UNDER: "under {}",
    Side.AT_MOST: "{} or less",
    Side.OVER: "over {}",
    Side.AT_LEAST: "{} or more",
}

# One and more than one. Thou has no plural at a bench.
_UNIT_NAMES = {
    Unit.THOU: ("thou", "thou"),
    Unit.INCH: ("inch", "inches"),
    Unit.MM: ("millimetre", "millimetres"),
    Unit.MICRON: ("micron", "microns"),
}


def unit_words(unit: Unit) -> str:
    """Name a unit, for more than one of it.

    >>> unit_words(Unit.MM)
    'millimetres'
    """
    return _UNIT_NAMES[unit][1]


# Decimal places that can be measured at a bench and are easy to follow by ear: a hundredth of
# a thou, a micron. Common practice, no source. Used for computed amounts, never for readings.
_PLACES = {Unit.THOU: 2, Unit.INCH: 5, Unit.MM: 3, Unit.MICRON: 1}


def units_of(amount: Amount) -> frozenset[Unit]:
    """Return the units that an amount is stated in."""
    match amount:
        case Length(unit=unit):
            return frozenset({unit})
        case Bound(limit=limit):
            return frozenset({limit.unit})
        case Between(low, high):
            return frozenset({low.unit, high.unit})


def length_words(length: Length, *, unit: bool = True, digit_check: bool = False, brief: bool = False) -> str:
    """Say a length exactly, however many decimals it has.

    Args:
        length: the length to say.
        unit: name the unit too. Less than one thou always has its unit: "half" alone is easily missed.
        digit_check: add the digits to numbers that sound like another ("fifteen, one five").
        brief: "eighteen half".

    >>> from handsfree.length import length
    >>> length_words(length("18.5"), unit=False), length_words(length("0.5"), unit=False)
    ('eighteen and a half', 'half a thou')
    >>> length_words(length("0.45", "mm")), length_words(length("1", "mm"))
    ('zero point four five millimetres', 'one millimetre')
    >>> length_words(length("15"), digit_check=True)
    'fifteen thou, one five'
    """
    value = length.value
    one, many = _UNIT_NAMES[length.unit]
    if length.unit is Unit.THOU:
        part = {Decimal("0.25"): "a quarter of a thou", Decimal("0.5"): "half a thou"}.get(abs(value))
        if part is None and abs(value) == Decimal("0.75"):
            part = "three quarters of a thou"
        if part is not None:
            return f"minus {part}" if value < 0 else part
    named = unit or (0 < abs(value) < 1 and length.unit is Unit.THOU)
    words = number_words(value, fractions=length.unit is Unit.THOU, brief=brief)
    if named:
        words = f"{words} {one if abs(value) == 1 else many}"
    if digit_check and sounds_like_another(value):
        words = f"{words}, {digits(plain(abs(value)))}"
    return words


def amount_words(amount: Amount, *, unit: bool = True, digit_check: bool = False, brief: bool = False) -> str:
    """Say a length, a bound or an interval.

    >>> from handsfree.length import length
    >>> amount_words(Bound(Side.UNDER, length("18")), unit=False)
    'under eighteen'
    >>> amount_words(Between(length("18"), length("19")))
    'eighteen to nineteen thou'
    """
    match amount:
        case Length():
            return length_words(amount, unit=unit, digit_check=digit_check, brief=brief)
        case Bound(side, limit):
            return _BOUNDS[side].format(length_words(limit, unit=unit, digit_check=digit_check, brief=brief))
        case Between(low, high):
            same = low.unit is high.unit
            first = length_words(low, unit=unit and not same, digit_check=digit_check, brief=brief)
            return f"{first} to {length_words(high, unit=unit, digit_check=digit_check, brief=brief)}"


def hundredths_words(length: Length, *, unit: bool = True) -> str | None:
    """Say less than a tenth of a millimetre in hundredths, as a metric bench does; None for other lengths.

    >>> from handsfree.length import length
    >>> [hundredths_words(length(v, "mm"), unit=False) for v in ("0.05", "0.01", "0.005", "0.025", "0.012")]
    ['five hundredths', 'one hundredth', 'half a hundredth', 'two and a half hundredths', None]
    """
    count = length.value * 100
    if length.unit is not Unit.MM or not 0 < count < 10 or count % 1 not in (0, Decimal("0.5")):
        return None
    said = "half a" if count < 1 else number_words(count)
    of = " of a millimetre" if unit else ""
    return f"{said} {'hundredth' if count <= 1 else 'hundredths'}{of}"


def speakable(length: Length, rounding: str = ROUND_DOWN) -> tuple[Length, bool]:
    """Shorten a computed length for the ear; return it and whether any digits were dropped.

    For amounts computed across units (0.45 mm against a target in thou). Rounding down is the
    default because it files less. Readings are never shortened.

    >>> from handsfree.length import length
    >>> speakable(length("1.968504"))
    (Length(value=Decimal('1.96'), unit=<Unit.THOU: 'thou'>), True)
    >>> speakable(length("1.5"))[1]
    False
    """
    shorter = length.value.quantize(Decimal(1).scaleb(-_PLACES[length.unit]), rounding=rounding)
    if shorter == length.value:
        return length, False
    return Length(shorter, length.unit), True
