"""Lengths in units unusual at a bench (centimetres, feet): the form to write instead.

A plan keeps each figure in its own unit, one of the four of `Unit`. This only makes the error helpful, with
pint, which knows other units.
"""

from __future__ import annotations

import re
from decimal import Decimal, localcontext
from fractions import Fraction

from handsfree.length import plain

_NAME = re.compile(r"[A-Za-z]{1,20}")
_PLACES = 9  # most decimals of a plan's figures


def in_millimetres(value: Decimal, unit: str) -> str | None:
    """Return the same length in mm as written in a plan, or None.

    None if pint doesn't know the unit, if it isn't one of length ("mil" is an angle there), or if the
    length isn't a finite decimal in millimetres.

    >>> in_millimetres(Decimal("1.5"), "cm"), in_millimetres(Decimal("18"), "kg")
    ('15 mm', None)
    """
    if not _NAME.fullmatch(unit):
        return None
    import pint  # here, because it takes half a second and only an error needs it

    registry: pint.UnitRegistry[Fraction] = pint.UnitRegistry(non_int_type=Fraction)
    try:
        length = registry.Quantity(Fraction(value), unit).to("millimeter").magnitude
    except (pint.PintError, AttributeError, TypeError, ValueError):
        return None
    scaled = Fraction(length) * 10**_PLACES
    if scaled.denominator != 1:
        return None
    with localcontext() as context:
        context.prec = 60
        return f"{plain(Decimal(scaled.numerator).scaleb(-_PLACES))} mm"
