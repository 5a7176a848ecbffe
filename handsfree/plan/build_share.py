"""Rings that are all tried in one bore, to be shared out before any is filed."""

from __future__ import annotations

from collections.abc import Mapping

from handsfree.plan.check import Axis, Check, Rule, Share
from handsfree.plan.fault import Source
from handsfree.plan.sheet import ShareSheet
from handsfree.plan.where import Place

BORE_AXIS = "cylinder"


def build_share(
    sheet: ShareSheet | None, place: Place, rule: Rule, axes: tuple[Axis, ...], source: Source
) -> Share | None:
    """Give what a check of tried rings says, or None where a check says nothing of the kind.

    Raises:
        PlanError: the check isn't one of direct readings with one axis, the rings.
    """
    if sheet is None:
        return None
    where: Place = (*place, "share")
    if rule is not Rule.LIMITS or len(axes) != 1:
        raise source.fault(
            where,
            'rings that are tried in one bore are a check of the rule "limits" with one axis, the rings',
        )
    like = tuple((axis, str(label)) for axis, label in sheet.like.items())
    return Share(sheet.to, str(sheet.tried_in), like)


def check_shares(checks: list[Check], source: Source) -> None:
    """Make sure that what is shared out goes to rings that there are.

    Raises:
        PlanError: no such check of gaps, bore or ring.
    """
    gaps: Mapping[str, Check] = {check.name: check for check in checks if check.rule is Rule.FILE_TO_GAP}
    for number, check in enumerate(checks):
        if check.share is None:
            continue
        place: Place = ("check", number, "share")
        to = gaps[source.one_of((*place, "to"), check.share.to, gaps, "check of gaps to file")]
        axes = {axis.name: axis.labels for axis in to.axes}
        if BORE_AXIS not in axes:
            raise source.fault(
                (*place, "to"), f'"{to.name}" has no axis "{BORE_AXIS}", so no bores to share among'
            )
        source.one_of((*place, "tried_in"), check.share.tried_in, axes[BORE_AXIS], "cylinder")
        given = dict(check.share.like)
        for axis, label in given.items():
            source.one_of((*place, "like"), axis, [name for name in axes if name != BORE_AXIS], "axis")
            source.one_of((*place, "like"), label, axes[axis], axis)
        for axis in axes:
            if axis != BORE_AXIS and axis not in given:
                raise source.fault(
                    (*place, "like"), f'which {axis} these are isn\'t said; write like = {{ {axis} = "..." }}'
                )
