"""What is assumed about heat, for an estimate of the gap that is left in a running engine."""

from __future__ import annotations

import tomllib
from dataclasses import dataclass
from decimal import Decimal
from functools import cache
from importlib.resources import files

from handsfree.length import Length


@dataclass(frozen=True, slots=True)
class Material:
    """What a ring or bore is of; `expansion` is its linear expansion in 1/K."""

    name: str
    expansion: Decimal


@dataclass(frozen=True, slots=True)
class Hot:
    """Assumed materials and rises of temperature above that of measuring, in kelvin.

    ring_rise: (least, most), as nobody knows it exactly. margin: the gap that must be left.
    """

    ring: Material
    bore: Material
    ring_rise: tuple[Decimal, Decimal]
    bore_rise: Decimal
    margin: Length


@cache
def materials() -> dict[str, Decimal]:
    """Give the expansion of the materials that are known by name, from ``materials.toml``."""
    text = (files("handsfree.plan") / "materials.toml").read_text("utf-8")
    return {name: Decimal(figure) for name, figure in tomllib.loads(text)["material"].items()}
