"""Judging under a plan's own rule, certainty and unit: one function for each question of a session."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from handsfree.judge.reading import judge_bounds, judge_reading
from handsfree.judge.sums import ShimChoice, judge_parts, judge_shim, parts_standard_mm
from handsfree.judge.verdict import Bounds, Verdict
from handsfree.length import Length
from handsfree.plan import Certainty, Check, Plan, Position, Rule, Target


def certainty_of(plan: Plan, check: Check, position: Position) -> Certainty:
    """Return the certainty of the judged value, from its instrument, or from all those of a sum.

    The limits of a shim check apply to its lash, so the lash's instrument counts there.
    """
    if check.rule is Rule.DIFFERENCE:
        standard = parts_standard_mm(check)
    else:
        instrument = check.instrument_for(_lash(check, position))
        standard = None if instrument is None else instrument.standard_mm
    return Certainty(standard, plan.acceptance, plan.confidence)


def _lash(check: Check, position: Position) -> Position:
    if check.rule is Rule.SHIM:
        return check.at_part(check.item(position), check.parts[-1].name)
    return position


def judge_lash(plan: Plan, check: Check, item: Position, lash: Length) -> Verdict:
    """Return the verdict on an item's lash alone, whatever its shims."""
    certainty = certainty_of(plan, check, item)
    return judge_reading(check.target(check.item(item)), lash, Rule.SHIM, check.unit, certainty)


def judge_direct(
    plan: Plan, check: Check, position: Position, seen: Length | Bounds, target: Target | None = None
) -> Verdict:
    """Judge a reading, or bounds from leaves, of a check that is read directly.

    Args:
        plan: the plan, with its acceptance rule.
        check: the check.
        position: the position of the reading.
        seen: the figure, or the bounds of the leaves tried on the unfiled ring.
        target: the target from measured bores; without it the plan's.

    Raises:
        KeyError: the check has no such position, or is one to tick.
        ValueError: the check is a difference or a shim, whose parts are judged together.
    """
    if check.parts:
        raise ValueError(f"{check.name} is judged by its parts")
    bounds = seen if isinstance(seen, Bounds) else Bounds.exactly(seen)
    return judge_bounds(
        target or check.target(position), bounds, check.rule, check.unit, certainty_of(plan, check, position)
    )


@dataclass(frozen=True, slots=True)
class Joint:
    """Result of one item's parts: the value and verdict of a difference, or the choice of a shim.

    missing: parts still to be read; while there are any, the other fields are empty.
    """

    missing: tuple[str, ...]
    value: Length | None = None
    verdict: Verdict | None = None
    shim: ShimChoice | None = None


def judge_joint(
    plan: Plan,
    check: Check,
    item: Position,
    readings: Mapping[Position, Length],
    to_hand: tuple[Length, ...] = (),
) -> Joint:
    """Judge a difference or shim from the standing readings of the check.

    Args:
        plan: the plan, with its acceptance rule.
        check: a check with parts.
        item: an item, or the position of any of its parts.
        readings: standing readings by position; those of other items are ignored.
        to_hand: used shims at hand, besides the available sizes.

    Raises:
        KeyError: the check has no such item.
    """
    item = check.item(item)
    target = check.target(item)
    by_part: dict[str, Length] = {}
    for part in check.read_parts:
        reading = readings.get(check.at_part(item, part.name))
        if reading is not None:
            by_part[part.name] = reading
    missing = tuple(part.name for part in check.read_parts if part.name not in by_part)
    if missing:
        return Joint(missing)
    if check.rule is Rule.SHIM:
        choice = judge_shim(check, target, by_part, to_hand, certainty_of(plan, check, item))
        if choice is None:
            raise AssertionError("every part was read")
        return Joint((), choice.lash, choice.verdict, choice)
    judged = judge_parts(check, target, by_part, certainty_of(plan, check, item))
    if judged is None:
        raise AssertionError("every part was read")
    return Joint((), judged[0], judged[1])


def standard_mm(check: Check, position: Position) -> float | None:
    """Return the standard uncertainty of one reading at `position`, or None where none is stated."""
    instrument = check.instrument_for(position)
    return None if instrument is None else instrument.standard_mm
