"""The session: where the work stands, and every entry that led there."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, field
from decimal import Decimal
from itertools import pairwise

from handsfree.errors import JournalError
from handsfree.journal import Draft, Event, Kind
from handsfree.plan import Plan, Position
from handsfree.session.entry import Entry, Pass, TurnsMade

Place = tuple[str, Position]

_PLAN_FACTS = frozenset({"plan", "plan_name", "plan_digest", "engine_name"})


@dataclass(frozen=True, slots=True)
class Session:
    """Where the work stands. `handsfree.session.fold` makes it from a plan and events.

    check, position: the ones in hand. entries: all entries of every place, in order. stand: those of
    them that stand, in the order in which they were measured. hands: the position in hand of each check
    that was visited. dressed: when the wheel was dressed.
    asked: the question that waits for an answer. count: how many events were folded.
    """

    plan: Plan
    check: str
    position: Position
    entries: Mapping[Place, tuple[Entry, ...]] = field(repr=False)
    stand: Mapping[Place, tuple[Entry, ...]] = field(repr=False)
    turns: Mapping[Place, tuple[TurnsMade, ...]] = field(repr=False)
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
        """What the session was opened with, besides the plan: who measures, with what."""
        opened = {} if self.opened is None else self.opened.draft.data
        return {name: str(told) for name, told in opened.items() if name not in _PLAN_FACTS}

    def history(self, check: str, position: Position) -> tuple[Entry, ...]:
        """Give every entry at a place in order, voided and corrected ones included."""
        return self.entries.get((check, position), ())

    def standing(self, check: str, position: Position) -> tuple[Entry, ...]:
        """Give the entries at a place that stand, in the order in which they were measured."""
        return self.stand.get((check, position), ())

    def current(self, check: str, position: Position) -> Entry | None:
        """Give the entry that counts at a place: the latest measured of those that stand."""
        standing = self.standing(check, position)
        return standing[-1] if standing else None

    def results(self, check: str) -> dict[Position, Entry]:
        """Give the current entry of every position of a check that has one, in work order."""
        found = {}
        for position in self.places(check):
            entry = self.current(check, position)
            if entry is not None:
                found[position] = entry
        return found

    def places(self, check: str) -> tuple[Position, ...]:
        """Give the positions of a check in work order, then any others that were measured."""
        planned = dict.fromkeys(self.plan.check(check).positions) if check in self._names() else {}
        extra = dict.fromkeys(position for name, position in self.entries if name == check)
        return tuple({**planned, **extra})

    def missing(self, check: str) -> tuple[Position, ...]:
        """Give the positions of a check, in work order, where nothing stands yet."""
        return tuple(
            position for position in self.plan.check(check).positions if self.current(check, position) is None
        )

    def log(self) -> list[Entry]:
        """Give every entry of the session in the order in which it was logged."""
        return sorted(
            (entry for held in self.entries.values() for entry in held), key=lambda entry: entry.number
        )

    def find(self, identity: str) -> Entry | None:
        """Give the entry whose event has this id, or None."""
        for held in self.entries.values():
            for entry in held:
                if entry.event.id == identity:
                    return entry
        return None

    def turns_since(self, check: str, position: Position) -> Decimal:
        """Give the turns of the filer at a place since its current reading was measured."""
        current = self.current(check, position)
        since = 0 if current is None else current.measured
        made = self.turns.get((check, position), ())
        return sum((turn.count for turn in made if turn.number > since), Decimal(0))

    def passes(self, check: str, position: Position) -> list[Pass]:
        """Give each pair of neighbouring readings at a place that has turns between them, in order.

        A voided reading drops out, and the turns on both sides of it are added up.
        """
        standing = self.standing(check, position)
        made = self.turns.get((check, position), ())
        found = []
        for before, after in pairwise(standing):
            between = [turn.count for turn in made if before.measured < turn.number < after.measured]
            if between:
                dressed = any(before.measured < number < after.measured for number in self.dressed)
                found.append(Pass(before, after, sum(between, Decimal(0)), dressed))
        return found

    def _names(self) -> Iterator[str]:
        return (check.name for check in self.plan.checks)


def opening(plan: Plan, **facts: str) -> Draft:
    """Make the event that opens a journal: it keeps the plan as it is today.

    facts: who measures (`who`), with what (`instrument`), and whatever else belongs on the sheet.
    """
    kept: dict[str, object] = {"plan": plan.text, "plan_name": plan.name, "plan_digest": plan.digest}
    kept["engine_name"] = str(plan.engine)
    return Draft(Kind.OPENED, data={**facts, **kept})


def plan_text(events: Iterable[Event]) -> str:
    """Give the text of the plan that a journal goes by: of its opening, or the last one since.

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
