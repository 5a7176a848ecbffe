"""Targets from measured bores: the tightest place counts, not the nominal bore."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from fractions import Fraction

from handsfree.length import Length, in_unit, plain
from handsfree.plan.check import Axis, Check, Position
from handsfree.plan.plan import Plan
from handsfree.plan.target import Target, shifted


@dataclass(frozen=True, slots=True)
class BoreShape:
    """Shape of one bore as measured: the mean diameter at each depth, in exact millimetres.

    A ring follows the bore all round, so at each depth the circumference counts; for a slight oval that is
    pi times the mean of its diameters. tightest: the depth with the least mean diameter.
    """

    means_mm: Mapping[str, Fraction]
    tightest: str
    readings: int
    like: Length

    @property
    def tight_mm(self) -> Fraction:
        """Mean diameter at the tightest depth."""
        return self.means_mm[self.tightest]


def bore_shape(
    bores: Check, item: Position, readings: Mapping[Position, Length], gap_at: str | None = None
) -> BoreShape | None:
    """Return the shape of the bore of `item`, or None if nothing was read there.

    Args:
        bores: the check that measures bores, such as by cylinder, depth and direction.
        item: the position of a ring; the axes that both checks have (its cylinder) select the readings.
        readings: the standing readings of that check.
        gap_at: a label of the axis of depths; without it the axis of depths is the first that `item` lacks.

    Worked example: 102.36 and 102.38 at the top, 102.33 and 102.35 at the bottom give means of
    102.37 and 102.34: the bottom is the tightest, with a taper of 0.03 mm.
    """
    own = [axis for axis in bores.axes if item.get(axis.name) is None]
    depths = _depths(own, gap_at)
    found: dict[str, list[Length]] = {}
    for position, reading in readings.items():
        shared = (position.get(axis) in (None, label) for axis, label in item.labels)
        if all(shared):
            label = position.get(depths.name) if depths is not None else None
            found.setdefault(label or "the bore", []).append(reading)
    if not found:
        return None
    means = {label: sum((r.mm for r in at), Fraction(0)) / len(at) for label, at in found.items()}
    tightest = min(means, key=lambda label: means[label])
    every = [reading for at in found.values() for reading in at]
    return BoreShape(means, tightest, len(every), every[0])


def _depths(axes: list[Axis], gap_at: str | None) -> Axis | None:
    named = [axis for axis in axes if gap_at is not None and gap_at in axis.labels]
    return next(iter(named or axes), None)


def measured_target(
    plan: Plan, check: Check, position: Position, readings: Mapping[Position, Length]
) -> Target:
    """Return the target of `position` from the measured bore, or else the plan's own.

    The factor applies to the tightest mean diameter. If the gap is measured at a wider depth (`gap_at`),
    aim and limits are raised by pi times the difference, so that the tightest place has its gap.

    Args:
        plan: the plan.
        check: a check of gaps; its `bores_from` may name the check that measures bores.
        position: a position of `check`.
        readings: the standing readings of that other check, by position.

    Raises:
        KeyError: `check` has no such position.

    Source: the ring's own length stays, so its gap changes by pi times the diameter; to judge the
    smallest gap in a worn bore is common practice, no source.
    """
    own = check.target(position)
    if check.bores_from is None:
        return own
    item = check.item(position)
    shape = bore_shape(plan.check(check.bores_from), item, readings, check.gap_at)
    if shape is None:
        return own
    recipe = check.recipes[item]
    tight = Length(in_unit(shape.tight_mm, shape.like.unit), shape.like.unit)
    several = len(shape.means_mm) > 1
    words = f"measured bore (tightest, at {shape.tightest})" if several else "measured bore"
    target = recipe.target(tight, words)
    at = shape.means_mm.get(check.gap_at or "")
    if at is None:
        return target
    change = at - shape.tight_mm
    shown = f"{plain(in_unit(change, check.unit, places=4))} {check.unit}"
    return shifted(
        target,
        change,
        recipe.step,
        f"as the bore is {shown} wider at {check.gap_at}, where it is measured",
    )
