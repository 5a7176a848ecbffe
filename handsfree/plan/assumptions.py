"""Uncertainty of instruments, acceptance near a limit, and assumptions about heat."""

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
    """Simple: a reading within its limits is good. Guarded: only with the stated confidence.

    Source: JCGM 106:2012 describes both; ISO 14253-1:2017 asks for guarded acceptance, at 95 %
    unless agreed otherwise, where conformity is to be proved (both from memory).
    """

    SIMPLE = "simple"
    GUARDED = "guarded"


class Stated(StrEnum):
    """Form in which an instrument's uncertainty was stated.

    STANDARD: one standard deviation. EXPANDED: twice that, about 95 %. WITHIN: a maximum error a, taken
    as a rectangular distribution: u = a / sqrt(3).

    Source: JCGM 100:2008 (GUM), 4.3.7 and 6.2 (from memory).
    """

    STANDARD = "standard"
    EXPANDED = "expanded"
    WITHIN = "within"


@dataclass(frozen=True, slots=True)
class Instrument:
    """An instrument and its uncertainty: the stated figure, and its form."""

    name: str
    given: Length
    stated: Stated

    @property
    def standard_mm(self) -> float:
        """Standard uncertainty in millimetres.

        Worked example: leaves within 0.5 thou have 0.5 / sqrt(3) = 0.2887 thou.
        """
        divisor = {Stated.STANDARD: 1.0, Stated.EXPANDED: 2.0, Stated.WITHIN: math.sqrt(3)}[self.stated]
        return float(self.given.mm) / divisor

    def __str__(self) -> str:
        return f"{self.name} ({self.stated} {self.given})"


@dataclass(frozen=True, slots=True)
class Certainty:
    """Uncertainty and acceptance rule for a verdict.

    standard_mm: standard uncertainty of the judged value in millimetres; None if none was stated.
    confidence: the probability that guarded acceptance requires, above a half.
    """

    standard_mm: float | None = None
    acceptance: Acceptance = Acceptance.SIMPLE
    confidence: float = 0.95

    @property
    def is_guarded(self) -> bool:
        """Whether acceptance is guarded and an uncertainty was stated."""
        return self.acceptance is Acceptance.GUARDED and bool(self.standard_mm)


@dataclass(frozen=True, slots=True)
class Material:
    """Material of a ring or bore; `expansion` is its linear expansion in 1/K."""

    name: str
    expansion: Decimal


@dataclass(frozen=True, slots=True)
class Hot:
    """Assumed materials, and rises of temperature above that of the measurement, in kelvin.

    ring_rise: (least, most), since it isn't known exactly. margin: the least gap that must remain.
    """

    ring: Material
    bore: Material
    ring_rise: tuple[Decimal, Decimal]
    bore_rise: Decimal
    margin: Length


@cache
def materials() -> dict[str, Decimal]:
    """Return the linear expansion of the known materials by name, in 1/K, from ``materials.toml``."""
    text = (files("handsfree.plan") / "materials.toml").read_text("utf-8")
    return {name: Decimal(figure) for name, figure in tomllib.loads(text)["material"].items()}
