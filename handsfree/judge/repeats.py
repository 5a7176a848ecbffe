"""Repeated readings that differ by more than the instrument's uncertainty."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction

from handsfree.length import Length

# Critical range factors f(n) at 95 %: the range of n readings with standard deviation s exceeds
# f(n) s in one case of twenty. They are quantiles of the studentised range with infinite freedom.
# Source: ISO 5725-6:1994, table of critical range factors (from memory, 2.8, 3.3, 3.6 ...), here
# to three decimals and checked against scipy.stats.studentized_range.
RANGE_FACTORS = {2: 2.772, 3: 3.314, 4: 3.633, 5: 3.858, 6: 4.030, 7: 4.170, 8: 4.286, 9: 4.387, 10: 4.474}
MOST_READINGS = 10

# Without a stated instrument: the resolution of leaves in half thous [common practice, no source].
UNSTATED_MM = Fraction(127, 10_000)


@dataclass(frozen=True, slots=True)
class Disagreement:
    """Readings that disagree: the least and greatest, and the range allowed."""

    least: Length
    greatest: Length
    allowed_mm: float


def disagreement(readings: Sequence[Length], standard_mm: float | None) -> Disagreement | None:
    """Return the disagreement of readings of one unchanged part, or None.

    Args:
        readings: two or more; only the last ten count.
        standard_mm: the instrument's standard uncertainty in millimetres; None allows half a thou.

    Returns:
        The disagreement, or None if they agree.

    Source: ISO 5725-6 critical range (from memory). Worked example: with u = 0.2 thou two readings
    may differ by 2.772 * 0.2 = 0.554 thou; 18 and 18.5 agree, 18 and 19 don't.
    """
    recent = list(readings)[-MOST_READINGS:]
    if len(recent) < 2:
        return None
    least = min(recent, key=lambda reading: reading.mm)
    greatest = max(recent, key=lambda reading: reading.mm)
    allowed = _allowed_mm(len(recent), standard_mm)
    if float(greatest.mm - least.mm) <= allowed:
        return None
    return Disagreement(least, greatest, allowed)


def shrunk(before: Length, now: Length, standard_mm: float | None) -> Disagreement | None:
    """Return the disagreement of a filed gap that seems smaller than before, or None.

    Filing can't shrink a gap: the cause may be a burr, a ring out of square, another bore or a misheard
    number.

    Worked example: with u = 0.2 thou, 15.5 after 16 is within 0.554 thou; 15 after 16 isn't.
    """
    if now.mm >= before.mm:
        return None
    return disagreement((before, now), standard_mm)


def _allowed_mm(count: int, standard_mm: float | None) -> float:
    return float(UNSTATED_MM) if standard_mm is None else RANGE_FACTORS[count] * standard_mm
