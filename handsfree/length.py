"""Exact lengths: the decimal as entered, with its unit. Also the number words of hearing and speaking.

A length is never converted for storage: 0.45 mm stays 0.45 mm. Comparing and adding use exact fractions of
a millimetre, so that an inch is exactly 25.4 mm and nothing is rounded.

Source: the international inch of 1959, 25.4 mm exactly. ``tests/outside`` compares the four factors with
pint and scipy.
"""

from __future__ import annotations

from dataclasses import dataclass
from decimal import Decimal
from enum import StrEnum
from fractions import Fraction


class Unit(StrEnum):
    """A unit of length at the bench; the value is its spoken and written name."""

    THOU = "thou"
    INCH = "in"
    MM = "mm"
    MICRON = "um"


# Own exact fractions, because loading a units library would add half a second to every start.
_MM = {
    Unit.THOU: Fraction(254, 10_000),
    Unit.INCH: Fraction(254, 10),
    Unit.MM: Fraction(1),
    Unit.MICRON: Fraction(1, 1000),
}


def millimetres_per(unit: Unit) -> Fraction:
    """Return the exact number of millimetres in one `unit`.

    >>> millimetres_per(Unit.THOU)
    Fraction(127, 5000)
    """
    return _MM[unit]


@dataclass(frozen=True, slots=True)
class Length:
    """A decimal and its unit, equal to another only if both are the same; compare with `fraction_mm`."""

    value: Decimal
    unit: Unit

    @property
    def mm(self) -> Fraction:
        """This length as an exact fraction of millimetres."""
        return Fraction(self.value) * millimetres_per(self.unit)

    def __str__(self) -> str:
        return f"{as_given(self.value)} {self.unit}"


def length(value: str | Decimal | int, unit: Unit | str = Unit.THOU) -> Length:
    """Return a length from its decimal text.

    >>> length("18.5")
    Length(value=Decimal('18.5'), unit=<Unit.THOU: 'thou'>)
    """
    return Length(Decimal(value), Unit(unit))


def in_unit(mm: Fraction, unit: Unit, places: int = 6) -> Decimal:
    """Return an exact fraction of millimetres in `unit`, exactly if `places` decimals suffice.

    Other values (0.45 mm in thou) are rounded half to even at `places` decimals: for display and speech,
    never for storage or decisions.

    >>> in_unit(Fraction(127, 5000) * 18, Unit.THOU)
    Decimal('18')
    """
    exact = mm / millimetres_per(unit)
    scaled = round(exact * 10**places)
    return lowest_form(Decimal(scaled).scaleb(-places))


def lowest_form(value: Decimal) -> Decimal:
    """Return a decimal without trailing zeros or exponent: 18.50 becomes 18.5, 100 stays 100.

    >>> lowest_form(Decimal("18.50")), lowest_form(Decimal("1E+2"))
    (Decimal('18.5'), Decimal('100'))
    """
    stripped = value.normalize()
    exponent = stripped.as_tuple().exponent
    return stripped.quantize(Decimal(1)) if isinstance(exponent, int) and exponent > 0 else stripped


def as_given(value: Decimal) -> str:
    """Return a decimal as text without an exponent, with its own zeros: they show its resolution.

    >>> as_given(Decimal("4.030")), as_given(Decimal("1E+2"))
    ('4.030', '100')
    """
    return format(value, "f")


def plain(value: Decimal) -> str:
    """Return a decimal as text in lowest form, without an exponent.

    >>> plain(Decimal("18.500")), plain(Decimal("0.0002"))
    ('18.5', '0.0002')
    """
    return format(lowest_form(value), "f")


SMALL = (
    *("zero", "one", "two", "three", "four", "five", "six", "seven", "eight", "nine", "ten"),
    *("eleven", "twelve", "thirteen", "fourteen", "fifteen", "sixteen", "seventeen", "eighteen", "nineteen"),
)
"""Words from 0 to 19, each at its own index."""

TENS = ("zero", "ten", "twenty", "thirty", "forty", "fifty", "sixty", "seventy", "eighty", "ninety")
"""Words of 0, 10, 20 ... 90, each at the index of its tens."""
