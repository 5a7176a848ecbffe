"""Judge the readings again after a change of the plan: a reading with a new verdict is corrected."""

from __future__ import annotations

from dataclasses import replace

from handsfree.dialogue.answer import Said, amount_of, said_between
from handsfree.dialogue.measured import log_size
from handsfree.journal import Draft, Heard, Kind
from handsfree.plan import Rule
from handsfree.session import DOUBT, Entry, Session, bounds_of
from handsfree.speak import Wording

NOTE = "judged anew under the changed plan"


def to_judge(session: Session) -> list[Entry]:
    """Return the current entry of each place that is still in the plan, in the order of measuring."""
    found = [
        entry
        for check in session.plan.checks
        if check.rule is not Rule.TICK
        for position in check.positions
        if (entry := session.current(check.name, position)) is not None and entry.value is not None
    ]
    return sorted(found, key=lambda entry: (entry.measured, entry.number))


def judged_anew(say: Wording, session: Session, entry: Entry) -> Draft | None:
    """Return the correction that gives a reading its verdict by today's plan; None if it is unchanged."""
    said = _said_of(entry)
    if said is None:
        return None
    heard = entry.event.draft.heard or Heard("keypad", "")
    answer = log_size(say, session, entry.position, said, replace(heard, sound=None), corrects=entry)
    draft = next((one for one in answer.drafts if one.kind is Kind.CORRECTION), None)
    before = entry.event.draft
    if draft is None or _verdict(draft) == _verdict(before):
        return None
    return replace(draft, note=NOTE)


def _verdict(draft: Draft) -> tuple[object, ...]:
    left = None if draft.remaining is None else draft.remaining.mm
    return draft.verdict, left, DOUBT in draft.data


def _said_of(entry: Entry) -> Said | None:
    draft, bounds = entry.event.draft, bounds_of(entry)
    if draft.value is None or bounds is None:
        return None
    if draft.other is not None:
        return said_between(draft.value, draft.other)
    return Said(bounds, amount_of(bounds) or draft.value, draft.value, draft.bound, feel=draft.feel)
