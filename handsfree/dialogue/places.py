"""Places of work: which are open, which comes next, and what is said of the one in hand.

The answers here log nothing: help, hints, and questions about the work.
"""

from __future__ import annotations

from collections.abc import Container

from handsfree.dialogue.answer import Answer, entry_amount, words_at
from handsfree.judge import State, next_position, whats_left
from handsfree.plan import Check, Position, Rule
from handsfree.session import Session, bores_for_gaps, state_at, states, target_at
from handsfree.speak import (
    OpenPlaces,
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


class _Settled(Container[Position]):
    """The positions without work left, judged lazily: mostly only few are needed."""

    def __init__(self, session: Session, check: Check, position: Position) -> None:
        self._session, self._check, self._place = session, check, position
        self._bores = bores_for_gaps(session, check)

    def __contains__(self, position: object) -> bool:
        if not isinstance(position, Position):
            return False
        if position == self._place:
            return True
        return state_at(self._session, self._check, position, self._bores) is State.GOOD


def next_open(session: Session, check: Check, position: Position) -> Position | None:
    """Return the next open position in work order, wrapping around; never `position` itself."""
    return next_position(check, _Settled(session, check, position), position)


def is_obvious(check: Check, position: Position, then: Position) -> bool:
    """Return whether `then` after `position` is obvious and need not be said.

    It is the next in work order, and no number goes down: from eight top to one second must be said.
    """
    order = check.positions
    at = order.index(position) + 1
    if order[at : at + 1] != (then,):
        return False
    numbers = [
        (int(label), int(other))
        for axis, label in position.labels
        if label.isdecimal() and (other := then.get(axis)) is not None and other.isdecimal()
    ]
    return all(other >= label for label, other in numbers)


def still_open(session: Session, check: Check) -> list[Position]:
    """Return the open positions in work order."""
    found = states(session, check)
    return [position for position in check.positions if found.get(position) is not State.GOOD]


def is_done(session: Session, check: Check) -> bool:
    """Return whether a check has no open position."""
    bores = bores_for_gaps(session, check)
    return all(state_at(session, check, position, bores) is State.GOOD for position in check.positions)


def open_checks(session: Session) -> tuple[str, ...]:
    """Return the other checks with open positions, beginning after the one in hand."""
    checks = session.plan.checks
    here = next(number for number, check in enumerate(checks) if check.name == session.check)
    around = (*checks[here + 1 :], *checks[:here])
    return tuple(check.name for check in around if not is_done(session, check))


def next_check(session: Session) -> str | None:
    """Return the next check with open positions, or None where the others are done."""
    checks = session.plan.checks
    here = next(number for number, check in enumerate(checks) if check.name == session.check)
    around = (*checks[here + 1 :], *checks[:here])
    return next((check.name for check in around if not is_done(session, check)), None)


def open_places(session: Session, check: Check) -> OpenPlaces:
    """Return a check's open places, sorted for the answer; an item whose parts were all read counts once."""
    left = whats_left(check, states(session, check))
    short, again, over = (
        tuple(dict.fromkeys(check.item(position) for position in group))
        for group in (left.short, left.unsettled, left.over)
    )
    return OpenPlaces(
        count=len(left.unread) + len(short) + len(again) + len(over),
        whole=left.whole,
        each=(len(left.unread) - len(left.loose)) // len(left.whole) if left.whole else 0,
        loose=left.loose,
        short=short,
        again=again,
        over=over,
        everything=len(left.unread) == left.total,
        filed=check.rule is Rule.FILE_TO_GAP,
        elsewhere=open_checks(session),
    )


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
