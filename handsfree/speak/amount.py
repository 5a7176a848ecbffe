"""Exact decimals, lengths, bounds and intervals as English words, the way a bench says them.

Cardinals have "and" after the hundreds ("one hundred and eighteen"), as British English has.
Halves and quarters are named as fractions where the trade does so; every other decimal is read
digit by digit after "point".
"""

from __future__ import annotations

from dataclasses import dataclass
from decimal import ROUND_DOWN, Decimal
from enum import StrEnum

from handsfree.length import Length, Unit, lowest_form, plain
from handsfree.numerals import SMALL, TENS

LARGEST = 999_999
"""The largest whole number that has words here; nothing at a bench comes near it."""

_BRIEF_FROM = 10
_THREE_QUARTERS = Decimal("0.75")  # "twenty three quarters" could be twenty three and a quarter
_FRACTIONS = {Decimal("0.25"): "a quarter", Decimal("0.5"): "a half", Decimal("0.75"): "three quarters"}


def cardinal(number: int) -> str:
    """Write a whole number in words, without hyphens or commas.

    Args:
        number: 0 to 999,999.

    Raises:
        ValueError: `number` lies outside that range.

    >>> cardinal(21), cardinal(118), cardinal(1018)
    ('twenty one', 'one hundred and eighteen', 'one thousand and eighteen')
    """
    if not 0 <= number <= LARGEST:
        raise ValueError(f"wanted a whole number from 0 to {LARGEST}, found {number}")
    if number < 20:
        return SMALL[number]
    if number < 100:
        tens, rest = divmod(number, 10)
        return f"{TENS[tens]} {SMALL[rest]}" if rest else TENS[tens]
    size, name = (1000, "thousand") if number >= 1000 else (100, "hundred")
    high, rest = divmod(number, size)
    words = f"{cardinal(high)} {name}"
    if not rest:
        return words
    return f"{words} and {cardinal(rest)}" if rest < 100 else f"{words} {cardinal(rest)}"


def digits(text: str) -> str:
    """Read digits and a decimal point one by one.

    >>> digits("18.50")
    'one eight point five zero'
    """
    return " ".join("point" if sign == "." else SMALL[int(sign)] for sign in text)


def number_words(value: Decimal, *, fractions: bool = True, brief: bool = False) -> str:
    """Write an exact decimal in words.

    Args:
        value: any finite decimal up to 999,999 either side of zero; trailing zeros are not spoken.
        fractions: name halves and quarters as such; otherwise every decimal is read by digits.
        brief: "eighteen half", from ten on: below, "one half" would be a half. Three quarters keep "and".

    Raises:
        ValueError: `value` is not finite or too large to be a length at a bench.

    >>> number_words(Decimal("18.5")), number_words(Decimal("17.75")), number_words(Decimal("0.5"))
    ('eighteen and a half', 'seventeen and three quarters', 'a half')
    >>> number_words(Decimal("18.22")), number_words(Decimal("0.45")), number_words(Decimal("-2"))
    ('eighteen point two two', 'zero point four five', 'minus two')
    >>> number_words(Decimal("18.5"), fractions=False)
    'eighteen point five'
    >>> [number_words(Decimal(value), brief=True) for value in ("18.5", "17.25", "1.5", "20.75")]
    ['eighteen half', 'seventeen quarter', 'one and a half', 'twenty and three quarters']
    """
    if not value.is_finite():
        raise ValueError(f"wanted a number that has words, found {value}")
    sign = "minus " if value < 0 else ""
    size = lowest_form(abs(value))
    whole = int(size)
    fraction = size - whole
    if fraction and fractions and fraction in _FRACTIONS:
        part = _FRACTIONS[fraction]
        if brief and whole >= _BRIEF_FROM and fraction != _THREE_QUARTERS:
            return f"{sign}{cardinal(whole)} {part.removeprefix('a ')}"
        return f"{sign}{cardinal(whole)} and {part}" if whole else f"{sign}{part}"
    if fraction:
        return f"{sign}{cardinal(whole)} point {digits(format(fraction, 'f')[2:])}"
    return f"{sign}{cardinal(whole)}"


def sounds_like_another(value: Decimal) -> bool:
    """Return whether a number has a near twin in noise: the teens against the tens.

    Source: thirteen/thirty to nineteen/ninety, common practice in radio and at counters, no source.

    >>> [sounds_like_another(Decimal(value)) for value in ("15", "15.5", "12")]
    [True, True, False]
    """
    whole = int(abs(value))
    return 13 <= whole <= 19 or (30 <= whole <= 90 and whole % 10 == 0)


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
