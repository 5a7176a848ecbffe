"""The journal, the session that it comes to, and the ways out of it."""

from handsfree.record.entry import Entry, Pass, State, TurnsMade
from handsfree.record.event import Draft, Event, Heard, Kind
from handsfree.record.export import from_json, to_csv, to_json
from handsfree.record.fold import extend, fold, start, step
from handsfree.record.journal import Journal, local_clock
from handsfree.record.session import Place, Session, check_same_plan, opening, plan_text

__all__ = [
    "Draft",
    "Entry",
    "Event",
    "Heard",
    "Journal",
    "Kind",
    "Pass",
    "Place",
    "Session",
    "State",
    "TurnsMade",
    "check_same_plan",
    "extend",
    "fold",
    "from_json",
    "local_clock",
    "opening",
    "plan_text",
    "start",
    "step",
    "to_csv",
    "to_json",
]
