"""The fold of a plan and its events into a session, and the session's current state. Pure."""

from handsfree.session.changed_plan import Change, ChangedPlan, change_of_plan, check_same_plan, plan_changed
from handsfree.session.current import (
    DOUBT,
    bores_for_gaps,
    bounds_of,
    comparable,
    figure_of,
    figures,
    filed_passes,
    known_bounds,
    part_figures,
    state_at,
    states,
    target_at,
    with_draft,
)
from handsfree.session.fold import Recorded, fold, read, step
from handsfree.session.results import Result, entry_text, joint_at, length_text, results, taken_from
from handsfree.session.session import Entry, Fate, Session, opening

__all__ = [
    "DOUBT",
    "Change",
    "ChangedPlan",
    "Entry",
    "Fate",
    "Recorded",
    "Result",
    "Session",
    "bores_for_gaps",
    "bounds_of",
    "change_of_plan",
    "check_same_plan",
    "comparable",
    "entry_text",
    "figure_of",
    "figures",
    "filed_passes",
    "fold",
    "joint_at",
    "known_bounds",
    "length_text",
    "opening",
    "part_figures",
    "plan_changed",
    "read",
    "results",
    "state_at",
    "states",
    "step",
    "taken_from",
    "target_at",
    "with_draft",
]
