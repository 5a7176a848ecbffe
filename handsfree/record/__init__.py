"""The journal, the session that it comes to, and the ways out of it."""

from handsfree.record.changed_plan import (
    Change,
    ChangedPlan,
    change_of_plan,
    check_same_plan,
    plan_changed,
)
from handsfree.record.entry import Entry, Pass, State, TurnsMade
from handsfree.record.event import Draft, Event, Heard, Kind
from handsfree.record.export import from_json, to_csv, to_json
from handsfree.record.export_positions import positions_to_csv
from handsfree.record.fold import extend, fold, start, step
from handsfree.record.going_on import Opened, open_to_go_on
from handsfree.record.journal import DamagedJournalError, Journal, local_clock
from handsfree.record.recorded import Recorded, read
from handsfree.record.results import Result, results
from handsfree.record.session import Place, Session, opening, plan_text
from handsfree.record.sheet import to_pdf
from handsfree.record.shims import PulledShim, joint_at, shims_to_hand, taken_from
from handsfree.record.sounds import Sounds
from handsfree.record.standing import (
    DOUBT,
    bores_for_gaps,
    bounds_of,
    comparable,
    figure_of,
    figures,
    filed_passes,
    is_doubted,
    known_bounds,
    part_figures,
    state_at,
    states,
    target_at,
    with_draft,
)
from handsfree.record.verify import Fault, Verification, verify
from handsfree.record.workbook import to_xlsx

__all__ = [
    "DOUBT",
    "Change",
    "ChangedPlan",
    "DamagedJournalError",
    "Draft",
    "Entry",
    "Event",
    "Fault",
    "Heard",
    "Journal",
    "Kind",
    "Opened",
    "Pass",
    "Place",
    "PulledShim",
    "Recorded",
    "Result",
    "Session",
    "Sounds",
    "State",
    "TurnsMade",
    "Verification",
    "bores_for_gaps",
    "bounds_of",
    "change_of_plan",
    "check_same_plan",
    "comparable",
    "extend",
    "figure_of",
    "figures",
    "filed_passes",
    "fold",
    "from_json",
    "is_doubted",
    "joint_at",
    "known_bounds",
    "local_clock",
    "open_to_go_on",
    "opening",
    "part_figures",
    "plan_changed",
    "plan_text",
    "positions_to_csv",
    "read",
    "results",
    "shims_to_hand",
    "start",
    "state_at",
    "states",
    "step",
    "taken_from",
    "target_at",
    "to_csv",
    "to_json",
    "to_pdf",
    "to_xlsx",
    "verify",
    "with_draft",
]
