"""Places of work: open places, the next place and the work left, in this check and the others."""

from __future__ import annotations

from collections.abc import Container

from handsfree.judge import State, next_position, whats_left
from handsfree.plan import Check, Position, Rule
from handsfree.session import Session, bores_for_gaps, state_at, states
from handsfree.speak import OpenPlaces


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
