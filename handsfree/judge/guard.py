"""Certainty of a verdict: probability of conformity, guard bands, and uncertainty of a sum."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from statistics import NormalDist

from handsfree.length import Length
from handsfree.plan import Target

_NORMAL = NormalDist()


@dataclass(frozen=True, slots=True)
class Chances:
    """Probabilities that the true value is below, within and above the limits; they add up to 1."""

    below: float
    within: float
    above: float


def chances(target: Target, value: Length, standard_mm: float) -> Chances:
    """Return the probabilities for a reading with a normal error of `standard_mm` millimetres.

    P = Phi((U - x) / u) - Phi((L - x) / u), with Phi the normal distribution.

    Source: JCGM 106:2012, conformance probability (from memory). Worked example: limits 18 to 22
    thou, u = 0.5 thou: 18.4 conforms with 0.7881, 19 with 0.9772, 22.4 with 0.2119.

    >>> from handsfree.length import length
    >>> target = Target(length("20"), length("18"), length("22"))
    >>> round(chances(target, length("18.4"), 0.5 * 0.0254).within, 4)
    0.7881
    """
    below = _NORMAL.cdf(float(target.lower.mm - value.mm) / standard_mm)
    above = _NORMAL.cdf(float(value.mm - target.upper.mm) / standard_mm)
    return Chances(below, max(0.0, 1.0 - below - above), above)


def guard_mm(standard_mm: float, confidence: float) -> float:
    """Return the width of a one-sided guard band: the normal quantile of `confidence` times u.

    Source: ISO 14253-1:2017 and JCGM 106:2012 (from memory). Worked example: u = 0.5 thou at 95 %
    gives 1.6449 * 0.5 = 0.8224 thou.
    """
    return _NORMAL.inv_cdf(confidence) * standard_mm


def sum_standard_mm(terms: Sequence[tuple[float, float]], correlation: float = 0.0) -> float:
    """Return the standard uncertainty of a sum, in the unit of its terms.

    u^2 = sum of (c_i u_i)^2 + 2 r * sum over pairs of c_i u_i c_j u_j.

    Args:
        terms: multiplier c and standard uncertainty u of each part. A part that is used twice
            (one shell wall, counted twice) has multiplier 2 and so counts fully correlated.
        correlation: r, the same between any two parts: 0 for instruments that were set independently,
            near 1 if one was set with the other.

    Source: JCGM 100:2008 (GUM), 5.1.2 and 5.2.2 (from memory). Worked example: c = H - 2 t - J
    with 0.10, 0.05 and 0.05 thou gives sqrt(0.10^2 + (2 * 0.05)^2 + 0.05^2) = 0.15 thou.

    >>> round(sum_standard_mm([(1, 0.10), (-2, 0.05), (-1, 0.05)]), 6)
    0.15
    """
    weighted = [times * standard for times, standard in terms]
    squares = sum(term * term for term in weighted)
    total = sum(weighted)
    pairs = (total * total - squares) / 2
    return math.sqrt(max(0.0, squares + 2 * correlation * pairs))


def acceptance_zone_mm(target: Target, standard_mm: float, confidence: float) -> tuple[float, float] | None:
    """Return the range of readings that guarded acceptance accepts, in millimetres, or None if empty.

    Source: as `guard_mm`. Worked example: limits 18 to 22 thou with u = 0.5 thou at 95 % leave
    18.8224 to 21.1776 thou.
    """
    middle = float(target.lower.mm + target.upper.mm) / 2
    half = float(target.upper.mm - target.lower.mm) / 2
    if 2 * _NORMAL.cdf(half / standard_mm) - 1 < confidence:
        return None
    low, high = 0.0, half  # distance from the middle: conforms at low, not sure at high

    def within(distance: float) -> float:
        return _NORMAL.cdf((half - distance) / standard_mm) - _NORMAL.cdf((-half - distance) / standard_mm)

    for _ in range(80):
        centre = (low + high) / 2
        low, high = (centre, high) if within(centre) >= confidence else (low, centre)
    return middle - low, middle + low


def interval_estimate_mm(goes: Length, stops: Length) -> tuple[float, float]:
    """Return the middle and the standard uncertainty of a gap between two leaves, in millimetres.

    Every gap in between is equally likely: a rectangular distribution, u = width / sqrt(12).

    Source: JCGM 100:2008 (GUM), 4.3.7 (from memory). Worked example: 18 goes and 19 doesn't: 18.5
    thou, u = 1 / sqrt(12) = 0.2887 thou.
    """
    width = float(stops.mm - goes.mm)
    return float(goes.mm + stops.mm) / 2, width / math.sqrt(12)
