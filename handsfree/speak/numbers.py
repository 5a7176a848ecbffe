"""Exact decimals as English words, the way a bench says them.

Cardinals have "and" after the hundreds ("one hundred and eighteen"), as British English has.
Halves and quarters are named as fractions where the trade does so; every other decimal is read
digit by digit after "point".
"""

from __future__ import annotations

from decimal import Decimal

from handsfree.length import SMALL, TENS, lowest_form

LARGEST = 999_999
"""The largest whole number that has words here; nothing at a bench comes near it."""

_BRIEF_FROM = 10
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
        brief: "eighteen half", from ten on: below, "one half" would be a half.

    Raises:
        ValueError: `value` is not finite or too large to be a length at a bench.

    >>> number_words(Decimal("18.5")), number_words(Decimal("17.75")), number_words(Decimal("0.5"))
    ('eighteen and a half', 'seventeen and three quarters', 'a half')
    >>> number_words(Decimal("18.22")), number_words(Decimal("0.45")), number_words(Decimal("-2"))
    ('eighteen point two two', 'zero point four five', 'minus two')
    >>> number_words(Decimal("18.5"), fractions=False)
    'eighteen point five'
    >>> [number_words(Decimal(value), brief=True) for value in ("18.5", "17.25", "1.5")]
    ['eighteen half', 'seventeen quarter', 'one and a half']
    """
    if not value.is_finite():
        raise ValueError(f"wanted a number that has words, found {value}")
    sign = "minus " if value < 0 else ""
    size = lowest_form(abs(value))
    whole = int(size)
    fraction = size - whole
    if fraction and fractions and fraction in _FRACTIONS:
        part = _FRACTIONS[fraction]
        if brief and whole >= _BRIEF_FROM:
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
