"""One measurement in the session, with what became of it."""

from __future__ import annotations

from dataclasses import dataclass
from decimal import Decimal
from enum import StrEnum

from handsfree.journal import Event
from handsfree.length import Length
from handsfree.plan import Position


class State(StrEnum):
    """What became of an entry. Nothing is erased: a voided entry is still in the log."""

    STANDS = "stands"
    CORRECTED = "corrected"
    VOIDED = "voided"


@dataclass(frozen=True, slots=True)
class Entry:
    """A reading, correction or tick at its place.

    number: 1, 2, 3 ... among all events of the session. measured: the number of the reading that
    this is or, through corrections, replaces: when the leaf was really in the gap.
    by: id of the latest event that corrected or voided it.
    """

    event: Event
    check: str
    position: Position
    number: int
    measured: int
    state: State = State.STANDS
    by: str | None = None

    @property
    def stands(self) -> bool:
        """Whether it counts."""
        return self.state is State.STANDS

    @property
    def value(self) -> Length | None:
        """What was measured; None for a tick."""
        return self.event.draft.value

    @property
    def bound(self) -> str | None:
        """`under` or `over` where the value is only a bound, else None."""
        return self.event.draft.bound

    @property
    def done(self) -> bool | None:
        """For a tick, whether it was done; None for a measurement."""
        answer = self.event.draft.data.get("done")
        return answer if isinstance(answer, bool) else None


@dataclass(frozen=True, slots=True)
class TurnsMade:
    """Turns of the filer at one place; `number` says when, among all events of the session."""

    event: Event
    number: int
    count: Decimal


@dataclass(frozen=True, slots=True)
class Pass:
    """What a number of turns took off: two readings that stand, and all turns between them.

    dressed: whether the wheel was dressed or changed in between, so that it teaches nothing.
    """

    before: Entry
    after: Entry
    turns: Decimal
    dressed: bool
