"""Lengths in units that no bench uses (centimetres, feet): what to write instead.

A plan keeps each figure in the unit that it was given in, and those are the four of `Unit`. This only
makes the sentence helpful, with pint, which knows the others.
"""

from __future__ import annotations

import re
from decimal import Decimal, localcontext
from fractions import Fraction

from handsfree.length import plain

_NAME = re.compile(r"[A-Za-z]{1,20}")
_PLACES = 9  # decimals that a plan's figures may have


def in_millimetres(value: Decimal, unit: str) -> str | None:
    """Give the same length in mm as a plan would hold it, or None.

    None where pint knows no such unit, where it isn't one of length ("mil" is an angle there), or
    where no finite decimal of millimetres is that length.

    >>> in_millimetres(Decimal("1.5"), "cm"), in_millimetres(Decimal("18"), "kg")
    ('15 mm', None)
    """
    if not _NAME.fullmatch(unit):
        return None
    import pint  # here, because it takes half a second and only a slip of the pen needs it

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
