"""Lengths as a person writes them in a plan: "18 thou", "4.030 in", "0.45 mm", "1.5 cm", or a bare number.

A figure in one of the four units of `Unit` is kept as written. One in another unit that pint knows as a
length is converted exactly; where no decimal of at most 12 digits is that length, it is refused.
"""

from __future__ import annotations

import re
from decimal import Decimal, localcontext
from fractions import Fraction

from handsfree.errors import did_you_mean
from handsfree.length import Length, Unit, lowest_form, millimetres_per

_SPELLINGS = {
    "thou": Unit.THOU,
    "thousandth": Unit.THOU,
    "thousandths": Unit.THOU,
    "in": Unit.INCH,
    "inch": Unit.INCH,
    "inches": Unit.INCH,
    '"': Unit.INCH,
    "mm": Unit.MM,
    "millimetre": Unit.MM,
    "millimetres": Unit.MM,
    "millimeter": Unit.MM,
    "millimeters": Unit.MM,
    "um": Unit.MICRON,
    "µm": Unit.MICRON,  # micro sign, U+00B5
    "μm": Unit.MICRON,  # Greek mu, U+03BC
    "micron": Unit.MICRON,
    "microns": Unit.MICRON,
}
# No instrument on a bench shows more digits, and with this limit every sum stays exact.
MOST_DIGITS = 12
LEAST_EXPONENT, MOST_EXPONENT = -9, 6  # of the first digit; no bench measures beyond either
_LENGTH = re.compile(r"\s*([+-]?(?:\d+(?:\.\d+)?|\.\d+))\s*([^\d\s.].*?)?\s*")
_OTHER_UNIT = re.compile("[A-Za-zµμ_]{1,24}")  # a name, and none of the sums that pint would work out


class WrittenError(ValueError):
    """A figure that can't be read; the text names the fault and the remedy, but not the place."""


def written_unit(text: str) -> Unit:
    """Return the unit named by `text`.

    Raises:
        WrittenError: it isn't a unit of length; the error names the nearest valid word.

    >>> written_unit("thousandths")
    <Unit.THOU: 'thou'>
    """
    unit = _shop_unit(text)
    if unit is None:
        raise WrittenError(_no_unit(text))
    return unit


def _shop_unit(text: str) -> Unit | None:
    key = text.strip().rstrip(".")
    return _SPELLINGS.get(key) or _SPELLINGS.get(key.lower())


def _no_unit(text: str) -> str:
    key = text.strip().rstrip(".")
    return f'"{text}" is no unit of length here; {did_you_mean(key, [u.value for u in Unit])}'


def written_length(figure: str | int | Decimal, unit: Unit | None) -> Length:
    """Return a length; a bare number is in `unit`, or an error if `unit` is None.

    Raises:
        WrittenError: it isn't a number, its unit is unknown, or it lacks one and needs it.

    >>> written_length("0.45 mm", Unit.THOU)
    Length(value=Decimal('0.45'), unit=<Unit.MM: 'mm'>)
    >>> written_length(18, Unit.THOU)
    Length(value=Decimal('18'), unit=<Unit.THOU: 'thou'>)
    >>> written_length("1.5 cm", Unit.THOU)
    Length(value=Decimal('15'), unit=<Unit.MM: 'mm'>)
    """
    if isinstance(figure, bool):
        raise WrittenError('true and false are no lengths; write a figure such as "18 thou"')
    if not isinstance(figure, str):
        value, own = Decimal(figure), None
        if not value.is_finite():
            raise WrittenError('it is no number; write a figure such as "18 thou"')
    else:
        found = _LENGTH.fullmatch(figure)
        if found is None:
            raise WrittenError(f'"{figure}" is no length; write a figure and its unit, such as "18 thou"')
        value, own = Decimal(found[1]), found[2]
    if len(value.as_tuple().digits) > MOST_DIGITS:
        raise WrittenError(f"{figure} has more than {MOST_DIGITS} digits; write what the instrument shows")
    if not _at_a_bench(value):
        raise WrittenError(f"{figure} is no length of a bench; write what the instrument shows")
    if own is not None:
        read = _in_own_unit(value, own)
        if not _at_a_bench(read.value):
            raise WrittenError(f"{figure} is no length of a bench; write what the instrument shows")
        return read
    if unit is None:
        raise WrittenError(f'{figure} has no unit; write one, such as "{figure} in" or "{figure} mm"')
    return Length(value, unit)


def _at_a_bench(value: Decimal) -> bool:
    return not value or LEAST_EXPONENT <= value.adjusted() <= MOST_EXPONENT


def _in_own_unit(value: Decimal, own: str) -> Length:
    unit = _shop_unit(own)
    return _converted(value, own.strip().rstrip(".")) if unit is None else Length(value, unit)


def _converted(value: Decimal, name: str) -> Length:
    """Return the same length in a unit of the shop.

    Raises:
        WrittenError: `name` is no unit of length, or no decimal that a plan may hold is that length.
    """
    mm_each = _millimetres_per(name)
    unit = min(Unit, key=lambda one: _size(mm_each / millimetres_per(one)))
    exact = Fraction(value) * mm_each / millimetres_per(unit)
    figure = _as_decimal(exact)
    if figure is None:
        raise WrittenError(
            f"{value} {name} can't be kept exactly in {MOST_DIGITS} digits; "
            f'write it in "{unit}", as finely as the instrument shows'
        )
    return Length(figure, unit)


def _millimetres_per(name: str) -> Fraction:
    if name.lower() in ("mil", "mils"):  # pint's is an angle; the trade's abroad is a thou
        raise WrittenError(f'"{name}" can be an angle or a length; write "thou" for 0.001 in')
    if not _OTHER_UNIT.fullmatch(name):
        raise WrittenError(_no_unit(name))
    import pint  # here, because it takes half a second and only a unit from outside the shop needs it

    registry: pint.UnitRegistry[Fraction] = pint.UnitRegistry(non_int_type=Fraction)
    try:
        return Fraction(registry.Quantity(Fraction(1), name).to("millimeter").magnitude)
    except (pint.PintError, AttributeError, TypeError, ValueError):
        raise WrittenError(_no_unit(name)) from None


def _size(ratio: Fraction) -> int:
    """How far a ratio is from a plain 1; a foot is 12 in, but 1524/5 mm."""
    return ratio.numerator * ratio.denominator


def _as_decimal(exact: Fraction) -> Decimal | None:
    """Return the decimal that is `exact`, or None where none that a plan may hold is."""
    places = MOST_DIGITS - LEAST_EXPONENT  # no figure that a plan may hold has more decimals
    scaled = exact * 10**places
    if scaled.denominator != 1:
        return None
    with localcontext() as context:
        context.prec = len(str(scaled.numerator)) + 1
        figure = lowest_form(Decimal(scaled.numerator).scaleb(-places))
    return figure if len(figure.as_tuple().digits) <= MOST_DIGITS else None
