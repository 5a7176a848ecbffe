"""Judging a reading, or bounds from leaves, against a target.

Certainty of the verdict: probability of conformity, guard bands, and uncertainty of a sum. Repeated readings
that differ by more than the instrument's uncertainty.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction
from statistics import NormalDist

from handsfree.judge.verdict import Advice, Bounds, State, Verdict, difference
from handsfree.length import Length, Unit
from handsfree.plan import Certainty, Rule, Target

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


SIMPLE = Certainty()


def judge_reading(
    target: Target,
    reading: Length,
    rule: Rule = Rule.FILE_TO_GAP,
    unit: Unit | None = None,
    certainty: Certainty = SIMPLE,
) -> Verdict:
    """Judge a figure against its target, with inclusive limits.

    Args:
        target: the aim and its limits.
        reading: the figure as entered, in any unit; compared exactly.
        rule: the amount missing is up to the aim for a filed gap, and up to the lower limit otherwise.
        unit: the unit of the amounts; without it the reading's own.
        certainty: trust in the reading. With guarded acceptance a verdict needs the stated confidence, and
            a reading too near a limit is uncertain. With simple acceptance a stated uncertainty only adds
            the probability of conformity.

    Returns:
        Short, good, over or uncertain, with the amount.

    Source: simple and guarded acceptance as JCGM 106:2012 describes them, ISO 14253-1 (from
    memory). Worked example: aim 18, limits 18 to 19.5 thou. 15.5 is short by 2.5; 18 and 19.5 are
    good; 19.75 is over by 0.25.

    >>> from handsfree.length import length
    >>> target = Target(length("18"), length("18"), length("19.5"))
    >>> verdict = judge_reading(target, length("15.5"))
    >>> verdict.state.value, str(verdict.remaining)
    ('short', '2.5 thou')
    """
    return judge_bounds(target, Bounds.exactly(reading), rule, unit, certainty)


def judge_bounds(
    target: Target,
    bounds: Bounds,
    rule: Rule = Rule.FILE_TO_GAP,
    unit: Unit | None = None,
    certainty: Certainty = SIMPLE,
) -> Verdict:
    """Judge a value by its bounds.

    Good: every value within the bounds is within the limits. Short and over: every one is outside on that
    side. With guarded acceptance a figure needs the stated confidence, and leaves must clear the limits by
    the guard band.
    """
    if not bounds.is_possible:
        return Verdict(State.UNCERTAIN, bounds, Advice.MEASURE_AGAIN)
    state = _state(target, bounds, Fraction(0))
    probability = None
    if bounds.is_exact and bounds.low is not None and certainty.standard_mm:
        chance = chances(target, bounds.low, certainty.standard_mm)
        probability = chance.within
        if certainty.is_guarded:
            sure = {State.SHORT: chance.below, State.GOOD: chance.within, State.OVER: chance.above}
            if sure[state] < certainty.confidence:
                state = State.UNCERTAIN
    elif certainty.is_guarded and certainty.standard_mm is not None and state is not State.OPEN:
        guard = Fraction(guard_mm(certainty.standard_mm, certainty.confidence))
        if _state(target, bounds, guard) is not state:
            state = State.UNCERTAIN
    match state:
        case State.SHORT:
            return _short(target, bounds, rule, unit, probability)
        case State.OVER:
            return _over(target, bounds, rule, unit, probability)
        case State.GOOD:
            return Verdict(State.GOOD, bounds, Advice.NOTHING, probability=probability)
        case State.UNCERTAIN:
            return Verdict(State.UNCERTAIN, bounds, Advice.MEASURE_AGAIN, probability=probability)
        case State.OPEN:
            return Verdict(State.OPEN, bounds, _next_leaf(target, bounds))


def _state(target: Target, bounds: Bounds, guard: Fraction) -> State:
    """Return the state, with limits that must be cleared by `guard` millimetres."""
    low, high, lower, upper = bounds.low, bounds.high, target.lower.mm, target.upper.mm
    if high is not None and (high.mm < lower - guard or (bounds.below_high and high.mm == lower - guard)):
        return State.SHORT
    if low is not None and low.mm > upper + guard:
        return State.OVER
    if low is not None and high is not None and lower + guard <= low.mm and high.mm <= upper - guard:
        return State.GOOD
    return State.OPEN


def _short(
    target: Target, bounds: Bounds, rule: Rule, unit: Unit | None, probability: float | None
) -> Verdict:
    filed = rule is Rule.FILE_TO_GAP
    wanted = target.aim if filed else target.lower
    high = bounds.high
    assert high is not None  # noqa: S101 - otherwise it would not be short
    return Verdict(
        State.SHORT,
        bounds,
        Advice.FILE if filed else Advice.BELOW_LIMIT,
        remaining=difference(wanted, high, unit),
        at_least=not bounds.is_exact,
        remaining_mm=wanted.mm - high.mm,
        probability=probability,
    )


def _over(
    target: Target, bounds: Bounds, rule: Rule, unit: Unit | None, probability: float | None
) -> Verdict:
    low = bounds.low
    assert low is not None  # noqa: S101 - otherwise it would not be over
    return Verdict(
        State.OVER,
        bounds,
        # Metal that was filed off can't be put back.
        Advice.OTHER_BORE_OR_NEW_RING if rule is Rule.FILE_TO_GAP else Advice.ABOVE_LIMIT,
        excess=difference(low, target.upper, unit or low.unit),
        at_least=not bounds.is_exact,
        excess_mm=low.mm - target.upper.mm,
        probability=probability,
    )


def _next_leaf(target: Target, bounds: Bounds) -> Advice:
    """Advise a thicker leaf while the gap may be short, else a thinner one than the no-go leaf."""
    low, high = bounds.low, bounds.high
    if high is None or (low is not None and low.mm < target.lower.mm):
        return Advice.TRY_THICKER
    return Advice.TRY_THINNER


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
