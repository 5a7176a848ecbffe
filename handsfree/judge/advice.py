"""Advice beyond the verdict: the next pass, another bore, heat, the next leaf, doubtful readings.

Each function takes plan, check, position and logged readings, and applies the plan's own figures.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass
from decimal import Decimal

from handsfree.judge.by_rule import standard_mm
from handsfree.judge.filing import Pass, PassAdvice, advise_pass, learn
from handsfree.judge.fitting import Assignment, Closure, Fitting, fit_rings, hot_gap, other_bores
from handsfree.judge.leaves import Stack, next_stack
from handsfree.judge.reading import Disagreement, disagreement, shrunk
from handsfree.judge.verdict import Bounds
from handsfree.length import Length, in_unit
from handsfree.plan import Check, Plan, Position, Rule, Target, bore_shape

BORE_AXIS = "cylinder"
NO_READINGS: Mapping[Position, Length] = {}


@dataclass(frozen=True, slots=True)
class FiledPass:
    """Two logged figures of one ring with turns of the filer between them.

    began, ended: event numbers of the readings before and after.
    """

    position: Position
    began: int
    ended: int
    turns: Decimal
    before: Length
    after: Length


def _kind(position: Position) -> tuple[tuple[str, str], ...]:
    """Return a ring's kind: its labels without the cylinder."""
    return tuple(pair for pair in position.labels if pair[0] != BORE_AXIS)


def passes_like(position: Position, filed: Iterable[FiledPass], dressed: Iterable[int] = ()) -> list[Pass]:
    """Return the passes from which to learn about the ring at `position`, oldest first.

    These are the passes on rings of the same kind (all top rings, say) that began after the wheel was last
    dressed or changed. `dressed`: event numbers of those changes.
    """
    since = max(dressed, default=0)
    kind = _kind(position)
    like = [one for one in filed if _kind(one.position) == kind and one.began > since]
    return [Pass(one.turns, one.after.mm - one.before.mm) for one in sorted(like, key=lambda one: one.ended)]


def next_pass(
    plan: Plan,
    check: Check,
    position: Position,
    reading: Length,
    passes: Sequence[Pass],
    target: Target | None = None,
) -> PassAdvice | None:
    """Return the advice on the next pass for a ring that is short, or None if none is due.

    passes: from `passes_like`. target: from measured bores, else the plan's.
    """
    if check.rule is not Rule.FILE_TO_GAP:
        return None
    return advise_pass(
        learn(passes),
        target or check.target(position),
        reading,
        plan.risk,
        standard_mm(check, position),
        check.unit,
    )


def bore_here(
    plan: Plan, check: Check, position: Position, bores: Mapping[Position, Length] = NO_READINGS
) -> Length | None:
    """Return the bore in which the gap at `position` is read: the measured one, else the plan's.

    bores: standing readings of the check that `check.bores_from` names. If that check measures several
    depths, the one of `gap_at` counts, else the tightest.
    """
    if check.bores_from is not None:
        shape = bore_shape(plan.check(check.bores_from), check.item(position), bores, check.gap_at)
        if shape is not None:
            mm = shape.means_mm.get(check.gap_at or "", shape.tight_mm)
            return Length(in_unit(mm, shape.like.unit), shape.like.unit)
    return plan.engine.bore_of(position.get(BORE_AXIS))


def bores_for(
    plan: Plan,
    check: Check,
    position: Position,
    gap: Length,
    still_open: Collection[Position],
    targets: Mapping[Position, Target] | None = None,
    bores: Mapping[Position, Length] = NO_READINGS,
) -> tuple[Assignment, ...]:
    """Return the bores that a ring found over at `position` would still fit, the best first.

    Only positions for its own kind of ring that are still open are considered. `Assignment.bore` is the
    cylinder's label.

    Args:
        plan: the plan.
        check: the check of gaps.
        position: the position at which it is over.
        gap: the gap read there.
        still_open: positions of the check that aren't good yet.
        targets: targets from measured bores, where there are any.
        bores: standing readings of the check that measures bores.
    """
    here = bore_here(plan, check, position, bores)
    if here is None:
        return ()
    wanted: dict[str, Target] = {}
    sizes: dict[str, Length] = {}
    for other in still_open:
        label = other.get(BORE_AXIS)
        size = bore_here(plan, check, other, bores)
        if other != position and label is not None and size is not None and _kind(other) == _kind(position):
            wanted[label] = (targets or {}).get(other) or check.target(other)
            sizes[label] = size
    return other_bores(gap, here, sizes, wanted, standard_mm(check, position) or 0.0)


def share_out(
    plan: Plan,
    check: Check,
    like: Position,
    gaps: Mapping[str, Length],
    tried_in: Length,
    targets: Mapping[Position, Target] | None = None,
    bores: Mapping[Position, Length] = NO_READINGS,
) -> Fitting:
    """Assign rings to bores before filing, for rings that were all tried in one bore.

    Args:
        plan: the plan.
        check: the check of gaps.
        like: any position of this kind of ring (any top ring, say).
        gaps: each ring's gap in the bore `tried_in`, by ring name.
        tried_in: diameter of the bore in which they were tried.
        targets: targets from measured bores, where there are any.
        bores: standing readings of the check that measures bores.
    """
    wanted: dict[str, Target] = {}
    sizes: dict[str, Length] = {}
    for position in check.items:
        label, size = position.get(BORE_AXIS), bore_here(plan, check, position, bores)
        if label is not None and size is not None and _kind(position) == _kind(like):
            wanted[label] = (targets or {}).get(position) or check.target(position)
            sizes[label] = size
    return fit_rings(gaps, tried_in, sizes, wanted)


def heat_caution(
    plan: Plan,
    check: Check,
    position: Position,
    gap: Length,
    bores: Mapping[Position, Length] = NO_READINGS,
) -> Closure | None:
    """Return the estimated hot gap if it is below the plan's margin, else None.

    None too if the plan has no assumptions about heat, or the bore is unknown.
    """
    bore = bore_here(plan, check, position, bores)
    if plan.hot is None or bore is None or check.rule is not Rule.FILE_TO_GAP:
        return None
    left = hot_gap(gap, bore, plan.hot)
    return left if left.short else None


def next_leaf(
    plan: Plan, check: Check, position: Position, bounds: Bounds, target: Target | None = None
) -> Stack | None:
    """Return the leaf or stack of the drawer to try next, or None if none adds information."""
    if not plan.leaves or check.rule is not Rule.FILE_TO_GAP:
        return None
    return next_stack(bounds, target or check.target(position), plan.leaves)


def doubt(check: Check, position: Position, readings: Sequence[Length]) -> Disagreement | None:
    """Return the disagreement of a position's last reading with those before it, or None.

    Readings of an unchanged part should agree within the instrument's uncertainty. A filed gap grows, so it
    is doubtful only if it seems smaller than before.

    Args:
        check: the check.
        position: the position of the readings.
        readings: standing figures there, oldest first, the new one last.
    """
    standard = standard_mm(check, position)
    if check.rule is Rule.FILE_TO_GAP:
        return shrunk(readings[-2], readings[-1], standard) if len(readings) > 1 else None
    return disagreement(readings, standard)
