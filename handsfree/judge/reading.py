"""A reading, or what leaves have shown, against its target."""

from __future__ import annotations

from handsfree.judge.verdict import Advice, Bounds, State, Verdict, difference
from handsfree.length import Length, Unit
from handsfree.plan.check import Rule
from handsfree.plan.target import Target


def judge_reading(
    target: Target, reading: Length, rule: Rule = Rule.FILE_TO_GAP, unit: Unit | None = None
) -> Verdict:
    """Judge a figure against its target by simple acceptance: both limits still count as inside.

    Args:
        target: the aim and its limits.
        reading: the figure as it was given, in any unit; compared exactly.
        rule: a filed gap that is short is brought up to its aim; anything else up to its limit.
        unit: the unit of the amounts; without it the reading's own.

    Returns:
        Short, good or over, with the amount.

    Source: simple acceptance as JCGM 106:2012 describes it (from memory). Worked example: aim 18,
    limits 18 to 19.5 thou. 15.5 is short by 2.5; 18 and 19.5 are good; 19.75 is over by 0.25.

    >>> from handsfree.length import length
    >>> target = Target(length("18"), length("18"), length("19.5"))
    >>> verdict = judge_reading(target, length("15.5"))
    >>> verdict.state.value, str(verdict.remaining)
    ('short', '2.5 thou')
    """
    return judge_bounds(target, Bounds.exactly(reading), rule, unit)


def judge_bound(
    target: Target,
    bound: str,
    leaf: Length,
    rule: Rule = Rule.FILE_TO_GAP,
    unit: Unit | None = None,
    known: Bounds | None = None,
) -> Verdict:
    """Judge one leaf: bound "under" if it didn't go (the gap is less), "over" if it went.

    "Under" a leaf at or below the lower limit is short; "over" a leaf above the upper limit is
    over; anything between leaves the matter open. `known` is what leaves before it have shown on
    the same unfiled ring.

    Raises:
        ValueError: `bound` is neither.

    Worked example: limits 18 to 19.5. No go 18 is short, by more than nothing up to the aim;
    no go 17 by more than 1. Go 18 is open: not short, but it might be over. Go 20 is over.
    """
    if bound not in ("under", "over"):
        raise ValueError(f'a bound is "under" or "over", not "{bound}"')
    seen = Bounds.under(leaf) if bound == "under" else Bounds.over(leaf)
    return judge_bounds(target, seen if known is None else seen.meet(known), rule, unit)


def judge_between(
    target: Target, goes: Length, stops: Length, rule: Rule = Rule.FILE_TO_GAP, unit: Unit | None = None
) -> Verdict:
    """Judge two leaves on one ring: `goes` enters and `stops` doesn't.

    The gap is at least `goes` and less than `stops`. Where `goes` isn't the thinner one they
    contradict each other: uncertain, measure again.
    """
    return judge_bounds(target, Bounds(goes, stops, below_high=True), rule, unit)


def judge_bounds(
    target: Target, bounds: Bounds, rule: Rule = Rule.FILE_TO_GAP, unit: Unit | None = None
) -> Verdict:
    """Judge all that is known of a value.

    Good needs every value that the bounds allow to be within the limits; short and over need
    every one to be outside on that side.
    """
    low, high = bounds.low, bounds.high
    if not bounds.is_possible:
        return Verdict(State.UNCERTAIN, bounds, Advice.MEASURE_AGAIN)
    if high is not None and (high.mm < target.lower.mm or (bounds.below_high and high.mm == target.lower.mm)):
        return _short(target, high, bounds, rule, unit)
    if low is not None and low.mm > target.upper.mm:
        return _over(target, low, bounds, rule, unit)
    if low is not None and high is not None and target.lower.mm <= low.mm and high.mm <= target.upper.mm:
        return Verdict(State.GOOD, bounds, Advice.NOTHING)
    return Verdict(State.OPEN, bounds, _next_leaf(target, bounds))


def _short(target: Target, high: Length, bounds: Bounds, rule: Rule, unit: Unit | None) -> Verdict:
    filed = rule is Rule.FILE_TO_GAP
    wanted = target.aim if filed else target.lower
    return Verdict(
        State.SHORT,
        bounds,
        Advice.FILE if filed else Advice.BELOW_LIMIT,
        remaining=difference(wanted, high, unit),
        at_least=not bounds.is_exact,
        remaining_mm=wanted.mm - high.mm,
    )


def _over(target: Target, low: Length, bounds: Bounds, rule: Rule, unit: Unit | None) -> Verdict:
    return Verdict(
        State.OVER,
        bounds,
        # Metal that was filed off can't be put back.
        Advice.OTHER_BORE_OR_NEW_RING if rule is Rule.FILE_TO_GAP else Advice.ABOVE_LIMIT,
        excess=difference(low, target.upper, unit or low.unit),
        at_least=not bounds.is_exact,
        excess_mm=low.mm - target.upper.mm,
    )


def _next_leaf(target: Target, bounds: Bounds) -> Advice:
    """Which way to go on trying: thicker while it isn't shown to be long enough, or not too long."""
    low, high = bounds.low, bounds.high
    if high is None or (low is not None and low.mm < target.lower.mm <= high.mm <= target.upper.mm):
        return Advice.TRY_THICKER
    if low is None:
        return Advice.TRY_THINNER
    return Advice.MEASURE_AGAIN
