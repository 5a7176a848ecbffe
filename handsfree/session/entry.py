"""One measurement in the session, and its state."""

from __future__ import annotations

from dataclasses import dataclass
from decimal import Decimal
from enum import StrEnum

from handsfree.journal import Event
from handsfree.length import Length
from handsfree.plan import Position


class Fate(StrEnum):
    """State of an entry. Nothing is erased: a voided entry stays in the log."""

    STANDS = "stands"
    CORRECTED = "corrected"
    VOIDED = "voided"


@dataclass(frozen=True, slots=True)
class Entry:
    """A reading, correction or tick at its place.

    number: 1, 2, 3 ... among all events of the session. measured: number of the original reading: the
    entry's own, or for a correction that of the reading it replaces, when the leaf was in the gap.
    by: id of the latest event that corrected or voided it.
    """

    event: Event
    check: str
    position: Position
    number: int
    measured: int
    state: Fate = Fate.STANDS
    by: str | None = None

    @property
    def stands(self) -> bool:
        """Whether it counts."""
        return self.state is Fate.STANDS

    @property
    def value(self) -> Length | None:
        """Measured value; None for a tick."""
        return self.event.draft.value

    @property
    def bound(self) -> str | None:
        """`under` or `over` if the value is only a bound, else None."""
        return self.event.draft.bound

    @property
    def done(self) -> bool | None:
        """For a tick, whether it was done; None for a measurement."""
        answer = self.event.draft.data.get("done")
        return answer if isinstance(answer, bool) else None


@dataclass(frozen=True, slots=True)
class TurnsMade:
    """Turns of the filer at one place. `number`: the event's number in the session."""

    event: Event
    number: int
    count: Decimal


@dataclass(frozen=True, slots=True)
class PassEntries:
    """The removal by some turns: two standing readings, and all turns between them.

    dressed: the wheel was dressed or changed in between, so nothing can be learned from the pass.
    """

    before: Entry
    after: Entry
    turns: Decimal
    dressed: bool
