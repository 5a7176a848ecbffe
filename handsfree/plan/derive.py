"""Gaps from bores: the factor, the rounding up, and the effect of a change of bore.

Every factor that isn't the maker's is marked as common practice, no source.
"""

from __future__ import annotations

import tomllib
from dataclasses import dataclass
from decimal import Decimal
from fractions import Fraction
from functools import cache
from importlib.resources import files

from handsfree.length import Length, Unit, lowest_form

# Pi to 34 decimals; the error is less than the size of an atom on any engine.
PI = Fraction(Decimal("3.1415926535897932384626433832795028"))

# The step to which a computed gap is rounded up: the resolution of leaves [common practice, no source].
STEPS = {
    Unit.THOU: Length(Decimal("0.5"), Unit.THOU),
    Unit.INCH: Length(Decimal("0.0005"), Unit.INCH),
    Unit.MM: Length(Decimal("0.01"), Unit.MM),
    Unit.MICRON: Length(Decimal(10), Unit.MICRON),
}
OIL_RAILS = frozenset({"oil rail", "rail", "oil", "upper rail", "lower rail"})


def gap_for(bore: Length, factor: Decimal) -> Fraction:
    """Return the gap for a bore and a factor, in exact millimetres: G = D * f.

    Source: ring makers' fitting sheets state the gap as a factor of the bore; the form is theirs, the
    default factors here are common practice, no source. Units: the factor is a plain ratio.
    Worked example: 4.030 in times 0.0045 = 0.018135 in = 18.135 thou = 0.460629 mm.

    >>> from handsfree.length import length, in_unit
    >>> in_unit(gap_for(length("4.030", "in"), Decimal("0.0045")), Unit.THOU)
    Decimal('18.135')
    """
    return bore.mm * Fraction(factor)


def gap_change_mm(bore_change_mm: Fraction) -> Fraction:
    """Return the change of one ring's gap due to a change of bore: dG = pi * dD.

    Source: the ring's own length stays, and the bore's circumference is pi times its diameter.
    Both in millimetres. Worked example: a bore 1.5 thou smaller lower down closes a gap of 22.0
    thou to 22.0 - pi * 1.5 = 17.288 thou there.
    """
    return PI * bore_change_mm


def round_up(mm: Fraction, step: Length) -> Length:
    """Return `mm` rounded up to a whole number of steps; a gap is never rounded down.

    >>> from handsfree.length import length, millimetres_per
    >>> str(round_up(Fraction("18.135") * millimetres_per(Unit.THOU), length("0.5")))
    '18.5 thou'
    """
    steps = -((-mm) // step.mm)
    return Length(lowest_form(step.value * steps), step.unit)


@dataclass(frozen=True, slots=True)
class Duty:
    """A use of an engine, with the usual factors of each ring as (least, most)."""

    name: str
    about: str
    factors: dict[str, tuple[Decimal, Decimal]]

    def factor(self, ring: str) -> Decimal | None:
        """Return the greater of the usual factors: too small a gap breaks rings, too large leaks a little."""
        usual = self.factors.get(ring)
        return None if usual is None else usual[1]


@cache
def duties() -> dict[str, Duty]:
    """Return the known duties by name, from ``duties.toml`` beside this module."""
    text = (files("handsfree.plan") / "duties.toml").read_text("utf-8")
    table = tomllib.loads(text, parse_float=Decimal)
    return {
        name: Duty(
            name,
            entry["about"],
            {ring: (Decimal(entry[ring][0]), Decimal(entry[ring][1])) for ring in ("top", "second")},
        )
        for name, entry in table["duty"].items()
    }


@cache
def least_rail_gap() -> Length:
    """Return the least gap of an oil rail, whatever the bore [common practice, no source]."""
    text = (files("handsfree.plan") / "duties.toml").read_text("utf-8")
    figure = tomllib.loads(text, parse_float=Decimal)["rail"]["least_thou"]
    return Length(Decimal(figure), Unit.THOU)
