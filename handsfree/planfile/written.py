"""Lengths as a person writes them in a plan: "18 thou", "4.030 in", "0.45 mm", or a bare number."""

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
# No instrument on a bench shows more; a longer figure is a slip, and every sum stays exact.
MOST_DIGITS = 12
LEAST_EXPONENT, MOST_EXPONENT = -9, 6  # of the first digit; no bench measures beyond either
_LENGTH = re.compile(r"\s*([+-]?(?:\d+(?:\.\d+)?|\.\d+))\s*([^\d\s.].*?)?\s*")


class WrittenError(ValueError):
    """A figure that can't be read; its text says what is wrong and what to write, without the place."""


def written_unit(text: str) -> Unit:
    """Give the unit that `text` names.

    Raises:
        WrittenError: no unit of length is written so; the text names the nearest right word.

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
    """Read a length; a bare number takes `unit`, and where that is None it needs one of its own.

    Raises:
        WrittenError: it is no number, its unit is unknown, or it has none and needs one.

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
    """The unit that a figure names; for a length in another unit the sentence says what to write."""
    try:
        return written_unit(own)
    except WrittenError:
        instead = in_millimetres(value, own)
        if instead is None:
            raise
        raise WrittenError(f'"{own}" is not used at a bench; write {instead}') from None
