"""The session: the state of the work, and every entry that led to it.

One measurement in the session, and its state.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, field
from decimal import Decimal
from enum import StrEnum
from itertools import pairwise

from handsfree.errors import JournalError
from handsfree.journal import Draft, Event, Kind, LeafSide
from handsfree.judge import State
from handsfree.length import Length
from handsfree.plan import Plan, Position


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
    def bound(self) -> LeafSide | None:
        """The side of the value on which the size lies, if the value is only a bound, else None."""
        return self.event.draft.bound

    @property
    def verdict(self) -> State | None:
        """Verdict at the time of logging; None for a tick, and for a part before the others were read."""
        word = self.event.draft.verdict
        return None if word is None else State(word)

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


Slot = tuple[str, Position]

_PLAN_FACTS = frozenset({"plan", "plan_name", "plan_digest", "engine_name"})


@dataclass(frozen=True, slots=True)
class Session:
    """State of the work, made from a plan and events by `handsfree.session.fold`.

    check, position: those in hand. entries: all entries of every place, in order. stand: the standing ones
    of them, in the order of measurement. hands: the position in hand of each visited check. dressed: event
    numbers at which the wheel was dressed. asked: the open question. count: number of folded events.
    """

    plan: Plan
    check: str
    position: Position
    entries: Mapping[Slot, tuple[Entry, ...]] = field(repr=False)
    stand: Mapping[Slot, tuple[Entry, ...]] = field(repr=False)
    turns: Mapping[Slot, tuple[TurnsMade, ...]] = field(repr=False)
    hands: Mapping[str, Position] = field(repr=False)
    last_entry: Entry | None = None
    standing_by: bool = False
    finished: bool = False
    opened: Event | None = None
    last_event: Event | None = None
    asked: Event | None = None
    dressed: tuple[int, ...] = ()
    count: int = 0

    @property
    def facts(self) -> dict[str, str]:
        """Facts from the opening besides the plan: who measures, and with which instrument."""
        opened = {} if self.opened is None else self.opened.draft.data
        return {name: str(told) for name, told in opened.items() if name not in _PLAN_FACTS}

    def history(self, check: str, position: Position) -> tuple[Entry, ...]:
        """Return every entry at a place in order, voided and corrected ones included."""
        return self.entries.get((check, position), ())

    def standing(self, check: str, position: Position) -> tuple[Entry, ...]:
        """Return the standing entries at a place, in the order of measurement."""
        return self.stand.get((check, position), ())

    def current(self, check: str, position: Position) -> Entry | None:
        """Return the current entry at a place: of the standing ones the latest measured."""
        standing = self.standing(check, position)
        return standing[-1] if standing else None

    def results(self, check: str) -> dict[Position, Entry]:
        """Return the current entries of a check by position, in work order."""
        found = {}
        for position in self.places(check):
            entry = self.current(check, position)
            if entry is not None:
                found[position] = entry
        return found

    def places(self, check: str) -> tuple[Position, ...]:
        """Return the positions of a check in work order, then other measured positions."""
        planned = dict.fromkeys(self.plan.check(check).positions) if check in self._names() else {}
        extra = dict.fromkeys(position for name, position in self.entries if name == check)
        return tuple({**planned, **extra})

    def missing(self, check: str) -> tuple[Position, ...]:
        """Return the positions of a check without a standing entry, in work order."""
        return tuple(
            position for position in self.plan.check(check).positions if self.current(check, position) is None
        )

    def log(self) -> list[Entry]:
        """Return every entry of the session in the order of logging."""
        return sorted(
            (entry for held in self.entries.values() for entry in held), key=lambda entry: entry.number
        )

    def find(self, identity: str) -> Entry | None:
        """Return the entry whose event has this id, or None."""
        for held in self.entries.values():
            for entry in held:
                if entry.event.id == identity:
                    return entry
        return None

    def passes(self, check: str, position: Position) -> list[PassEntries]:
        """Return each pair of neighbouring readings at a place with turns between them, in order.

        A voided reading drops out, and the turns on both sides of it are added up.
        """
        standing = self.standing(check, position)
        made = self.turns.get((check, position), ())
        found = []
        for before, after in pairwise(standing):
            between = [turn.count for turn in made if before.measured < turn.number < after.measured]
            if between:
                dressed = any(before.measured < number < after.measured for number in self.dressed)
                found.append(PassEntries(before, after, sum(between, Decimal(0)), dressed))
        return found

    def _names(self) -> Iterator[str]:
        return (check.name for check in self.plan.checks)


def opening(plan: Plan, **facts: str) -> Draft:
    """Return the event that opens a journal; it stores the plan's text.

    facts: who measures (`who`), with which instrument (`instrument`), and other facts for the sheet.
    """
    kept: dict[str, object] = {"plan": plan.text, "plan_name": plan.name, "plan_digest": plan.digest}
    kept["engine_name"] = str(plan.engine)
    return Draft(Kind.OPENED, data={**facts, **kept})


def plan_text(events: Iterable[Event]) -> str:
    """Return the text of a journal's plan: the latest one, if it was changed.

    Raises:
        JournalError: the journal holds none.
    """
    found = None
    for event in events:
        text = event.draft.data.get("plan")
        if event.kind in (Kind.OPENED, Kind.PLAN) and isinstance(text, str):
            found = text
    if found is None:
        raise JournalError("The journal is empty: no session was opened in it.")
    return found
