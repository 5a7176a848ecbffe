"""How far an instrument can be trusted, and how close to a limit a reading may be accepted."""

from __future__ import annotations

import math
import tomllib
from dataclasses import dataclass
from decimal import Decimal
from enum import StrEnum
from functools import cache
from importlib.resources import files

from handsfree.length import Length


class Acceptance(StrEnum):
    """Simple: a reading inside its limits is good. Guarded: only if it surely is, as stated.

    Source: JCGM 106:2012 describes both; ISO 14253-1:2017 asks for guarded acceptance, at 95 %
    unless agreed otherwise, where conformity is to be proved (both from memory).
    """

    SIMPLE = "simple"
    GUARDED = "guarded"


class Stated(StrEnum):
    """In which of the usual forms an instrument's uncertainty was given.

    STANDARD: one standard deviation. EXPANDED: twice that, about 95 %. WITHIN: never further off
    than this, nothing more being known, which makes it rectangular: u = a / sqrt(3).

    Source: JCGM 100:2008 (GUM), 4.3.7 and 6.2 (from memory).
    """

    STANDARD = "standard"
    EXPANDED = "expanded"
    WITHIN = "within"


@dataclass(frozen=True, slots=True)
class Instrument:
    """What measures, and how well: the figure as it was given, and the form it was given in."""

    name: str
    given: Length
    stated: Stated

    @property
    def standard_mm(self) -> float:
        """Standard uncertainty in millimetres.

        Worked example: leaves within 0.5 thou are good to 0.5 / sqrt(3) = 0.2887 thou.
        """
        divisor = {Stated.STANDARD: 1.0, Stated.EXPANDED: 2.0, Stated.WITHIN: math.sqrt(3)}[self.stated]
        return float(self.given.mm) / divisor

    def __str__(self) -> str:
        return f"{self.name} ({self.stated} {self.given})"


@dataclass(frozen=True, slots=True)
class Certainty:
    """What a verdict needs to know about doubt.

    standard_mm: standard uncertainty of the value that is judged, in millimetres; None if nobody
    stated one. confidence: the probability that guarded acceptance asks for, above a half.
    """

    standard_mm: float | None = None
    acceptance: Acceptance = Acceptance.SIMPLE
    confidence: float = 0.95

    @property
    def is_guarded(self) -> bool:
        """Whether limits are to be guarded, which takes a stated uncertainty too."""
        return self.acceptance is Acceptance.GUARDED and bool(self.standard_mm)


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
