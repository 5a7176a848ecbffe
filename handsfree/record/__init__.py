"""The journal, the session that it comes to, and the ways out of it."""

from handsfree.record.entry import Entry, Pass, State, TurnsMade
from handsfree.record.event import Draft, Event, Heard, Kind
from handsfree.record.export import from_json, to_csv, to_json
from handsfree.record.fold import extend, fold, start, step
from handsfree.record.journal import Journal, local_clock
from handsfree.record.recorded import Recorded, read
from handsfree.record.results import Result, results
from handsfree.record.session import Place, Session, check_same_plan, opening, plan_text
from handsfree.record.sheet import to_pdf
from handsfree.record.sounds import Sounds
from handsfree.record.verify import Fault, Verification, verify
from handsfree.record.workbook import to_xlsx

__all__ = [
    "Draft",
    "Entry",
    "Event",
    "Fault",
    "Heard",
    "Journal",
    "Kind",
    "Pass",
    "Place",
    "Recorded",
    "Result",
    "Session",
    "Sounds",
    "State",
    "TurnsMade",
    "Verification",
    "check_same_plan",
    "extend",
    "fold",
    "from_json",
    "local_clock",
    "opening",
    "plan_text",
    "read",
    "results",
    "start",
    "step",
    "to_csv",
    "to_json",
    "to_pdf",
    "to_xlsx",
    "verify",
]
