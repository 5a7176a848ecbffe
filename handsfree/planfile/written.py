"""Reads lengths as written in a plan: "18 thou", "4.030 in", "0.45 mm", or a bare number."""

from __future__ import annotations

import re
from decimal import Decimal

from handsfree.errors import did_you_mean
from handsfree.length import Length, Unit
from handsfree.plan import in_millimetres

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


class WrittenError(ValueError):
    """A figure that can't be read; the text names the fault and the remedy, but not the place."""


def written_unit(text: str) -> Unit:
    """Return the unit named by `text`.

    Raises:
        WrittenError: it isn't a unit of length; the error names the nearest valid word.

    >>> written_unit("thousandths")
    <Unit.THOU: 'thou'>
    """
    key = text.strip().rstrip(".")
    unit = _SPELLINGS.get(key) or _SPELLINGS.get(key.lower())
    if unit is None:
        raise WrittenError(
            f'"{text}" is no unit of length here; {did_you_mean(key, [u.value for u in Unit])}'
        )
    return unit


def written_length(figure: str | int | Decimal, unit: Unit | None) -> Length:
    """Return a length; a bare number is in `unit`, or an error if `unit` is None.

    Raises:
        WrittenError: it isn't a number, its unit is unknown, or it lacks one and needs it.

    >>> written_length("0.45 mm", Unit.THOU)
    Length(value=Decimal('0.45'), unit=<Unit.MM: 'mm'>)
    >>> written_length(18, Unit.THOU)
    Length(value=Decimal('18'), unit=<Unit.THOU: 'thou'>)
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
    if value and not LEAST_EXPONENT <= value.adjusted() <= MOST_EXPONENT:
        raise WrittenError(f"{figure} is no length of a bench; write what the instrument shows")
    if own is not None:
        return Length(value, _own_unit(value, own))
    if unit is None:
        raise WrittenError(f'{figure} has no unit; write one, such as "{figure} in" or "{figure} mm"')
    return Length(value, unit)


def _own_unit(value: Decimal, own: str) -> Unit:
    """Return a figure's own unit; for another unit of length the error says what to write."""
    try:
        return written_unit(own)
    except WrittenError:
        instead = in_millimetres(value, own)
        if instead is None:
            raise
        raise WrittenError(f'"{own}" is not used at a bench; write {instead}') from None
