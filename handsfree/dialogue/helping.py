"""Help, hints and questions about the work: answers that log nothing."""

from __future__ import annotations

from handsfree.dialogue.answer import Answer, entry_amount, words_at
from handsfree.dialogue.places import next_check, next_open
from handsfree.judge import State
from handsfree.plan import Position, Rule
from handsfree.session import Session, state_at, target_at
from handsfree.speak import (
    Reply,
    Wording,
    help_words,
    hint_words,
    no_such_label,
    nothing_to_go,
    to_go_words,
    whats_next,
)
from handsfree.understand import Near


def example(say: Wording, session: Session) -> str:
    """Return a phrase that is valid at this moment: the place in hand with a likely size."""
    check = session.plan.check(session.check)
    position = say.place(session.position)
    if check.rule is Rule.TICK:
        return "done"
    aim = target_at(session, check, session.position).aim
    return f"{position}, {words_at(say, check, session.position).phrasing.computed(aim)}"


def hint(say: Wording, session: Session, near: Near) -> Reply:
    """Answer words meant for the bench but unknown to it: one short, helpful sentence."""
    if near.missing is not None:
        return no_such_label(say.phrasing, *near.missing)
    return hint_words(say.phrasing, example(say, session))


def help_with(say: Wording, session: Session) -> Answer:
    """Answer "help"."""
    return Answer((), help_words(say.phrasing, example(say, session)))


def where(say: Wording, session: Session, *, told: bool) -> Answer:
    """Name the place in hand and its target; with `told`, its last reading too."""
    check, position = session.plan.check(session.check), session.position
    words = words_at(say, check, position)
    current = session.current(check.name, position) if told else None
    last = entry_amount(current) if current is not None else None
    if check.rule is Rule.TICK or check.parts:
        return Answer((), words.here(position, None, last))
    target = target_at(session, check, position)
    if check.rule is not Rule.FILE_TO_GAP:
        return Answer((), words.here(position, None, last, limits=(target.lower, target.upper)))
    return Answer((), words.here(position, target.aim, last))


def how_much(say: Wording, session: Session) -> Answer:
    """State how much is left to remove at the place in hand; without a reading, its target."""
    check, position = session.plan.check(session.check), session.position
    current = session.current(check.name, position)
    left = current.event.draft.remaining if current is not None else None
    words = words_at(say, check, position)
    match state_at(session, check, position):
        case State.GOOD:
            return Answer((), nothing_to_go(words.phrasing, position))
        case State.OVER:
            return Answer((), nothing_to_go(words.phrasing, position, over=True))
        case _ if left is not None and check.rule is Rule.FILE_TO_GAP:
            return Answer((), to_go_words(words.phrasing, position, left))
        case _:
            return where(say, session, told=True)


def recall(say: Wording, session: Session, position: Position) -> Answer:
    """State the current entry of a place."""
    check = session.plan.check(session.check)
    if position not in check.positions:
        return Answer((), say.no_such_place(position))
    current = session.current(check.name, position)
    amount = entry_amount(current) if current is not None else None
    if amount is None:
        return Answer((), say.no_reading(position))
    return Answer((), words_at(say, check, position).read_back(position, amount))


def coming(say: Wording, session: Session) -> Answer:
    """Name the place that comes next; nothing moves."""
    check = session.plan.check(session.check)
    position = next_open(session, check, session.position)
    if position is None:
        return Answer((), say.end_of_plan(session.position, next_check(session)))
    return Answer((), whats_next(say.phrasing, position))
