"""The work left in a check: the next position, missed ones, and those not right yet."""

from __future__ import annotations

from collections.abc import Container, Mapping
from dataclasses import dataclass

from handsfree.judge.verdict import State
from handsfree.plan import Check, Position


def next_position(check: Check, read: Container[Position], after: Position | None = None) -> Position | None:
    """Return the next position without a reading: the first after `after` in the plan's order, or None.

    After the last position the search continues from the first. None: everything was read.

    Args:
        check: the check.
        read: positions with a standing reading or tick.
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
    """Positions left in a check, in work order.

    unread: without a reading. short: to be filed further, or below a limit. unsettled: uncertain or open.
    over: above the limit. good, total: numbers of good positions and of all. whole: labels (axis, label)
    whose positions are all unread, to be named together ("all seconds"); loose: the other unread positions.
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


def whats_left(check: Check, states: Mapping[Position, State]) -> Left:
    """Return the positions left in a check.

    Args:
        check: the check.
        states: the state of each position that was read. A part counts as good while its joint verdict is
            pending; a tick counts as good when done.
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
    """Return the labels whose positions are all unread, on the axis where they cover most."""
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
        # Prefer the axis with fewer labels, for a shorter sentence.
        if size > covers or (size == covers and len(found) < len(best)):
            best, covers = tuple(found), size
    return best
