"""The work that is left in a check: what comes next, what was missed, what isn't right yet."""

from __future__ import annotations

from collections.abc import Container, Mapping
from dataclasses import dataclass

from handsfree.judge.verdict import State
from handsfree.plan import Check, Position


def next_position(check: Check, read: Container[Position], after: Position | None = None) -> Position | None:
    """Give the next position without a reading: the first after `after` in the plan's order.

    Past the end it turns back to what was missed. None if everything was read.

    Args:
        check: the check.
        read: positions that have a standing reading or tick.
        after: the position in hand; without it the search begins at the first.
    """
    places = check.positions
    start = places.index(after) + 1 if after in places else 0
    for position in (*places[start:], *places[:start]):
        if position not in read:
            return position
    return None


@dataclass(frozen=True, slots=True)
class Left:
    """What is left of a check, each in work order.

    unread: without a reading. short: to be filed on, or below a limit. unsettled: uncertain or
    open. over: above the limit. good: how many are good. total: how many there are.
    whole: labels of which nothing was read (axis, label), to be named in one breath ("all
    seconds"); loose: the unread positions that none of those covers.
    """

    unread: tuple[Position, ...]
    short: tuple[Position, ...]
    unsettled: tuple[Position, ...]
    over: tuple[Position, ...]
    good: int
    total: int
    whole: tuple[tuple[str, str], ...] = ()
    loose: tuple[Position, ...] = ()

    @property
    def is_done(self) -> bool:
        """Whether every position is good."""
        return self.good == self.total

    @property
    def may_close(self) -> bool:
        """Whether nothing is unread; a check that isn't all good may close, one with holes asks first."""
        return not self.unread


def whats_left(check: Check, states: Mapping[Position, State]) -> Left:
    """Give what is left of a check.

    Args:
        check: the check.
        states: the verdict at each position that was read. A part that was read and whose joint
            verdict is pending counts as good; a tick counts as good when done.
    """
    groups: dict[State | None, list[Position]] = {}
    for position in check.positions:
        groups.setdefault(states.get(position), []).append(position)
    unread = tuple(groups.get(None, ()))
    whole = _whole(check, frozenset(unread))
    covered = [position for position in unread if any(position.get(axis) == label for axis, label in whole)]
    unsettled = set(groups.get(State.UNCERTAIN, ())) | set(groups.get(State.OPEN, ()))
    return Left(
        unread=unread,
        short=tuple(groups.get(State.SHORT, ())),
        unsettled=tuple(position for position in check.positions if position in unsettled),
        over=tuple(groups.get(State.OVER, ())),
        good=len(groups.get(State.GOOD, ())),
        total=len(check.positions),
        whole=whole,
        loose=tuple(position for position in unread if position not in covered),
    )


def _whole(check: Check, unread: frozenset[Position]) -> tuple[tuple[str, str], ...]:
    """Find labels that are wholly unread, on the axis where they cover most."""
    best: tuple[tuple[str, str], ...] = ()
    covers = 0
    for axis in check.axes:
        if len(check.axes) == 1:
            break
        found = [
            (axis.name, label)
            for label in axis.labels
            if all(position in unread for position in check.positions if position.get(axis.name) == label)
        ]
        size = len(found) * len(check.positions) // len(axis.labels)
        # The fewer words the better: few labels that cover as much as many.
        if size > covers or (size == covers and len(found) < len(best)):
            best, covers = tuple(found), size
    return best
