"""A size was told: log it where it belongs, judge it, say what is left.

What stands is judged anew after a change of the plan: a reading with another verdict now is corrected.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from handsfree.dialogue.advice import changed_targets, offer
from handsfree.dialogue.answer import (
    Answer,
    Said,
    amount_of,
    last_measured,
    place_of,
    said_between,
    whole,
    words_at,
)
from handsfree.dialogue.places import is_obvious, next_check, next_open
from handsfree.dialogue.verdicts import judge_reading, word
from handsfree.journal import Draft, Heard, Kind
from handsfree.length import Length
from handsfree.plan import Check, Position, Rule
from handsfree.session import DOUBT, Entry, Session, bounds_of, with_draft
from handsfree.speak import After, Amount, Between, Bound, Wording
from handsfree.understand import Bracket, Command, Reading, command_json


def log_size(
    say: Wording,
    session: Session,
    named: Position | None,
    said: Said,
    heard: Heard,
    *,
    corrects: Entry | None = None,
    withdrawn: str | None = None,
) -> Answer:
    """Log a size at a position (by default the one in hand) and answer with its verdict.

    corrects: the entry that it replaces, in any check. withdrawn: a value that the same utterance
    took back.
    """
    check = session.plan.check(corrects.check if corrects else session.check)
    position = whole(named, corrects.position if corrects else session.position)
    if position not in check.positions or check.rule is Rule.TICK:
        return Answer((), say.no_such_place(position))
    say = words_at(say, check, position)
    draft = Draft(
        Kind.CORRECTION if corrects else Kind.READING,
        check=check.name,
        position=position,
        value=said.value,
        bound=said.bound,
        other=said.other,
        feel=said.feel,
        refers_to=corrects.event.id if corrects else None,
        heard=heard,
        data={"withdrawn": withdrawn} if withdrawn else {},
    )
    judged = judge_reading(
        session, with_draft(session, draft), check, position, said, corrects, named=named is not None
    )
    draft = replace(
        draft,
        verdict=judged.state.value if judged.state is not None else None,
        remaining=judged.remaining,
        data=draft.data if judged.doubt is None else {**draft.data, DOUBT: _written(judged.doubt)},
    )
    logged = with_draft(session, draft)
    then = next_open(logged, check, position) if judged.goes_on else None
    last = judged.goes_on and then is None
    drafts = (draft,) if then is None else (draft, Draft(Kind.MOVE, check=check.name, position=then))
    advice = [changed_targets(say, session, logged, check), offer(say, logged, check)]
    after = After(
        then=then,
        obvious=then is not None and is_obvious(check, position, then),
        last=last,
        next_check=next_check(logged) if last else None,
        advice=" ".join(sentence for sentence in advice if sentence) or None,
    )
    return Answer(drafts, word(say, logged, check, judged, after))


def _written(amount: Amount) -> str:
    """Return an amount as it is logged."""
    match amount:
        case Length():
            return str(amount)
        case Bound(side, limit):
            return f"{side} {limit}"
        case Between(low, high):
            return f"{low} to {high}"


def is_plausible(check: Check, position: Position, sizes: Sequence[Length]) -> bool:
    """Return whether sizes are plausible at a place; outside its window they are asked about first."""
    window = check.windows.get(position)
    return window is None or all(window[0].mm <= size.mm <= window[1].mm for size in sizes)


def asks_first(session: Session, command: Command) -> bool:
    """Return whether a reading is so implausible at its place that it must be asked about.

    So is a correction of another value than the last ("not eighteen, nineteen"), and "I said eighteen"
    after the work has gone on: that may be a reading that wasn't heard.
    """
    if not isinstance(command, Reading):
        return False
    entry = last_measured(session) if command.corrects else None
    if entry is not None and command.withdrawn not in (None, entry.value):
        return True
    if entry is not None and command.repeats and entry.position != session.position:
        return True
    check = session.plan.check(entry.check if entry else session.check)
    return not is_plausible(check, place_of(session, command), [command.value])


def ask_first(say: Wording, session: Session, reading: Reading, heard: Heard) -> Answer:
    """Ask whether an implausible reading was meant; affirm logs it."""
    position = place_of(session, reading)
    draft = Draft(
        Kind.ASKED,
        check=session.check,
        position=position,
        heard=heard,
        data={"about": "reading", "candidates": [command_json(reading)]},
    )
    check = session.plan.check(session.check)
    words = words_at(say, check, position) if position in check.positions else say
    return Answer((draft,), words.confirm_value(reading.value, position))


def log_bracket(
    say: Wording, session: Session, bracket: Bracket, heard: Heard, corrects: Entry | None = None
) -> Answer:
    """Log two leaves of one utterance; if one is implausible, ask for a repetition and log nothing."""
    check = session.plan.check(corrects.check if corrects else session.check)
    position = whole(bracket.position, corrects.position if corrects else session.position)
    for leaf in (bracket.goes, bracket.stops):
        if not is_plausible(check, position, [leaf]):
            return Answer((), say.out_of_range(position, leaf))
    return log_size(
        say, session, bracket.position, said_between(bracket.goes, bracket.stops), heard, corrects=corrects
    )


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
