"""Readings of one thing that differ by more than the instrument should."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction

from handsfree.length import Length

# Critical range factors f(n) at 95 %: the range of n readings with standard deviation s exceeds
# f(n) s in one case of twenty. They are quantiles of the studentised range with endless freedom.
# Source: ISO 5725-6:1994, table of critical range factors (from memory, 2.8, 3.3, 3.6 ...), here
# to three decimals and checked against scipy.stats.studentized_range.
RANGE_FACTORS = {2: 2.772, 3: 3.314, 4: 3.633, 5: 3.858, 6: 4.030, 7: 4.170, 8: 4.286, 9: 4.387, 10: 4.474}
MOST_READINGS = 10

# Where no instrument is stated: what leaves in half thous can tell [common practice, no source].
UNSTATED_MM = Fraction(127, 10_000)


@dataclass(frozen=True, slots=True)
class Disagreement:
    """Readings that don't agree: the least and greatest, and the range that would be expected."""

    least: Length
    greatest: Length
    allowed_mm: float


def disagreement(readings: Sequence[Length], standard_mm: float | None) -> Disagreement | None:
    """Tell whether readings of one unchanged thing differ by more than the instrument should.

    Args:
        readings: two or more; of more than ten only the last ten count.
        standard_mm: the instrument's standard uncertainty in millimetres; None allows half a thou.

    Returns:
        The disagreement, or None where they agree.

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
    """Tell whether a filed gap seems to have become smaller, which filing can't do.

    A burr, a ring that isn't square, another bore or a number misheard may be behind it.

    Worked example: with u = 0.2 thou, 15.5 after 16 is within 0.554 thou; 15 after 16 isn't.
    """
    if now.mm >= before.mm:
        return None
    return disagreement((before, now), standard_mm)


def _allowed_mm(count: int, standard_mm: float | None) -> float:
    return float(UNSTATED_MM) if standard_mm is None else RANGE_FACTORS[count] * standard_mm
