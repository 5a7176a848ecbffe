"""Continuing with an edited plan: its differences, and the event that records them."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from enum import StrEnum

from handsfree.errors import HandsfreeError, JournalError
from handsfree.journal import Draft, Event, Kind
from handsfree.plan import Plan, differences
from handsfree.planfile import parse_plan
from handsfree.session.session import Session, opening, plan_text

_SHOWN = 8


class ChangedPlan(StrEnum):
    """How to continue with an edited plan: keep the earlier verdicts, or judge the readings again."""

    KEEP = "keep"
    JUDGE = "judge"


@dataclass(frozen=True, slots=True)
class Change:
    """Differences between a journal's plan and another. `name` is the name of the journal's plan."""

    name: str
    differences: tuple[str, ...]

    @property
    def sentence(self) -> str:
        """Return the differences as the beginning of a sentence."""
        shown = "; ".join(self.differences[:_SHOWN])
        more = len(self.differences) - _SHOWN
        return shown + (f"; and {more} more" if more > 0 else "")


def change_of_plan(plan: Plan, events: Iterable[Event]) -> Change | None:
    """Return the differences between a plan and the journal's plan, or None if there are none."""
    events = list(events)
    kept = [event.draft.data for event in events if event.kind in (Kind.OPENED, Kind.PLAN)]
    if not kept or kept[-1].get("plan_digest") == plan.digest:
        return None
    name = str(kept[-1].get("plan_name", "?"))
    try:
        old = parse_plan(plan_text(events), "the journal's plan")
    except HandsfreeError:
        return Change(name, ("all of it: the journal's plan can't be read by this version",))
    return Change(name, tuple(differences(old, plan)))


def check_same_plan(plan: Plan, events: Iterable[Event]) -> None:
    """Check that these events belong to a session of exactly this plan; no events pass too.

    Raises:
        JournalError: the session has another plan; the sentence names the differences.
    """
    change = change_of_plan(plan, events)
    if change is not None:
        raise JournalError(
            f'The journal belongs to the plan "{change.name}" as it was when it was opened, and '
            f'"{plan.name}" differs from it: {change.sentence}. Go on with that plan, name a new journal, or '
            "go on with this one by --changed-plan keep (verdicts stay as they were given) or --changed-plan "
            "judge (what stands is judged anew)."
        )


def plan_changed(plan: Plan, change: Change, how: ChangedPlan, session: Session) -> Draft:
    """Return the event that records a change of plan.

    session: under the new plan. The position in hand stays, if the new plan has it.
    """
    told = opening(plan)
    data = {**told.data, "changes": list(change.differences), "verdicts": how.value}
    check = next((check for check in plan.checks if check.name == session.check), plan.checks[0])
    place = session.position if session.position in check.positions else check.positions[0]
    return Draft(Kind.PLAN, check=check.name, position=place, data=data)
