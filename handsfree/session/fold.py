"""The fold: from a plan and its events to the session.

Undo, resume, replay and audit are the same fold over fewer or more events. The rules of the fold:

- A reading, correction or tick is an entry at its check and position, which become those in hand.
  Without a position it belongs to the position in hand.
- A correction replaces the entry that it refers to, and may be at another position. If it refers to
  no known entry, it counts as a reading of its own.
- A void withdraws an entry or some turns of the filer. The entry before it, at that place, becomes
  current again. Voiding a correction restores the corrected entry.
- So an entry is voided if any event voids it, else corrected if an unvoided correction refers to it,
  else it stands. The order of those events doesn't matter.
- A move sets the position. A change of check returns to that check's last position in hand, or to its
  first position. The fold never moves to another position by itself.
- A change of the plan goes to the position that it names. The session is that of the last plan.
- A question is open until the next entry, void, turns, move, change of check, stand by, finish or
  resumption.

A journal read back: its events, and their session under the journal's own plan.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace
from datetime import datetime
from decimal import Decimal
from pathlib import Path
from types import MappingProxyType
from typing import TypeVar

from handsfree.errors import JournalError
from handsfree.journal import Event, Journal, Kind
from handsfree.plan import Plan, Position
from handsfree.planfile import parse_plan
from handsfree.session.session import Entry, Fate, Session, Slot, TurnsMade, plan_text


def start(plan: Plan) -> Session:
    """Return the session before any event, at the first position of the plan's first check."""
    first = plan.checks[0]
    empty: Mapping[Slot, tuple[Entry, ...]] = MappingProxyType({})
    none: Mapping[Slot, tuple[TurnsMade, ...]] = MappingProxyType({})
    hands = MappingProxyType({first.name: first.positions[0]})
    return Session(plan, first.name, first.positions[0], empty, empty, none, hands)


def step(session: Session, event: Event) -> Session:
    """Return the session after one more event. The old session is unchanged."""
    return extend(session, (event,))


def fold(plan: Plan, events: Iterable[Event]) -> Session:
    """Return the session of a plan and its events."""
    return extend(start(plan), events)


def extend(session: Session, events: Iterable[Event]) -> Session:
    """Return the session after many more events: the same as one `step` for each."""
    folding = _Folding(session)
    for event in events:
        folding.take(event)
    return folding.session()


_ENTRIES = frozenset({Kind.READING, Kind.CORRECTION, Kind.TICK})
_ANSWERS = _ENTRIES | {
    *(Kind.VOID, Kind.TURNS, Kind.MOVE, Kind.CHECK, Kind.RESUMED),
    *(Kind.STAND_BY, Kind.FINISHED),
}


class _Folding:
    """A mutable session, so that folding many events is cheap.

    The entries of a place are shared with the original session until they change (copy on write).
    """

    def __init__(self, session: Session) -> None:
        self.origin = session
        self.check = session.check
        self.position = session.position
        self.hands = dict(session.hands)
        self.last_entry = session.last_entry
        self.standing_by = session.standing_by
        self.finished = session.finished
        self.opened = session.opened
        self.last_event = session.last_event
        self.asked = session.asked
        self.dressed = list(session.dressed)
        self.count = session.count
        self.entries: dict[Slot, list[Entry]] = {}  # only the changed places
        self.newest: dict[Slot, list[Entry]] = {}  # that stand, measured after all others there
        self.unsettled: set[Slot] = set()  # where the standing entries must be found among all entries
        self.turns: dict[Slot, list[TurnsMade]] = {}
        self.turn_places: dict[str, Slot] | None = None  # made for the first void
        self.void_turns: dict[Slot, set[str]] = {}  # removed at the end, all of a place at once
        self.index: _Index | None = None  # made for the first correction or void

    def take(self, event: Event) -> None:
        """Apply one more event."""
        self.count += 1
        self.last_event = event
        kind = event.draft.kind
        if kind in _ANSWERS:
            self.asked = None
        if kind in _ENTRIES:
            self._enter(event)
        elif kind is Kind.MOVE:
            self._go(event.draft.check, event.draft.position)
        elif kind is Kind.CHECK:
            self._change(event.draft.check, event.draft.position)
        elif kind is Kind.VOID:
            self._void(event)
        elif kind is Kind.TURNS:
            self._turn(event)
        else:
            self._mark(event, kind)

    def session(self) -> Session:
        """Return the session so far."""
        origin = self.origin
        for place, voided in self.void_turns.items():
            made = _opened(self.turns, origin.turns, place)
            self.turns[place] = [turn for turn in made if turn.event.id not in voided]
        return Session(
            plan=origin.plan,
            check=self.check,
            position=self.position,
            entries=_merged(origin.entries, self.entries),
            stand=self._stand(),
            turns=_merged(origin.turns, self.turns),
            hands=MappingProxyType(self.hands),
            last_entry=self.last_entry,
            standing_by=self.standing_by,
            finished=self.finished,
            opened=self.opened,
            last_event=self.last_event,
            asked=self.asked,
            dressed=tuple(self.dressed),
            count=self.count,
        )

    def _stand(self) -> Mapping[Slot, tuple[Entry, ...]]:
        """Return the current entry of every place. A new reading comes last, so nothing is sorted."""
        shared, changed = self.origin.stand, {}
        for place in self.entries:
            if place in self.unsettled:
                kept = [entry for entry in self.entries[place] if entry.stands]
                changed[place] = sorted(kept, key=lambda entry: (entry.measured, entry.number))
            elif place in self.newest:
                changed[place] = [*shared.get(place, ()), *self.newest[place]]
        return _merged(shared, changed)

    def _mark(self, event: Event, kind: Kind) -> None:
        match kind:
            case Kind.ASKED:
                self.asked = event
            case Kind.STAND_BY:
                self.standing_by = True
            case Kind.GO_AHEAD:
                self.standing_by = False
            case Kind.DRESSED:
                self.dressed.append(self.count)
            case Kind.FINISHED:
                self.finished = True
            case Kind.PLAN:
                self._go(event.draft.check, event.draft.position)
            case Kind.OPENED | Kind.RESUMED:
                self.opened = self.opened or (event if kind is Kind.OPENED else None)
                self.standing_by = self.finished = False
            case _:
                pass

    def _go(self, check: str | None, position: Position | None) -> None:
        if check is not None:
            self.check = check
        if position is not None:
            self.position = position
            self.hands[self.check] = position

    def _change(self, name: str | None, position: Position | None) -> None:
        name = name or self.check
        if position is None:
            position = self.hands.get(name)
        if position is None:
            position = next(
                (check.positions[0] for check in self.origin.plan.checks if check.name == name), None
            )
        self._go(name, position)

    def _turn(self, event: Event) -> None:
        draft = event.draft
        place = draft.check or self.check, draft.position or self.position
        count = Decimal(str(draft.data.get("count", 0)))
        _opened(self.turns, self.origin.turns, place).append(TurnsMade(event, self.count, count))
        if self.turn_places is not None:
            self.turn_places[event.id] = place

    def _enter(self, event: Event) -> None:
        draft = event.draft
        place = draft.check or self.check, draft.position or self.position
        measured = self.count
        corrected = None
        if draft.kind is Kind.CORRECTION and draft.refers_to is not None:
            corrected = self._index().slots.get(draft.refers_to)
        if corrected is not None:
            (check, position), slot = corrected
            place = draft.check or check, draft.position or position
            measured = self._at((check, position))[slot].measured
        entry = Entry(event, *place, self.count, measured)
        held = self._at(place)
        held.append(entry)
        if self.index is not None:
            self.index.add(entry, len(held) - 1)
        if corrected is None:
            self.newest.setdefault(place, []).append(entry)
        else:
            self.unsettled.add(place)
            self._settle(*corrected)
        self._go(*place)
        self.last_entry = entry

    def _void(self, event: Event) -> None:
        index = self._index()
        identity = event.draft.refers_to
        found = index.slots.get(identity) if identity is not None else None
        if found is None or identity is None:
            self._void_turns(identity)
            return
        index.voids[identity] = event.id
        voided = self._settle(*found)
        restored = index.slots.get(voided.event.draft.refers_to or "")
        if restored is not None and restored != found:
            self._settle(*restored)
        self.last_entry = self._last_standing(index)

    def _void_turns(self, identity: str | None) -> None:
        if self.turn_places is None:
            held = {**self.origin.turns, **self.turns}
            self.turn_places = {turn.event.id: place for place, made in held.items() for turn in made}
        place = self.turn_places.pop(identity or "", None)
        if place is not None:
            self.void_turns.setdefault(place, set()).add(identity or "")

    def _settle(self, place: Slot, slot: int) -> Entry:
        """Recompute and return the state of one entry."""
        self.unsettled.add(place)
        index = self._index()
        held = self._at(place)
        identity = held[slot].event.id
        latest = reversed(index.corrections.get(identity, ()))
        correction = next((by for by in latest if by not in index.voids), None)
        if identity in index.voids:
            state, by = Fate.VOIDED, index.voids[identity]
        elif correction is not None:
            state, by = Fate.CORRECTED, correction
        else:
            state, by = Fate.STANDS, None
        held[slot] = replace(held[slot], state=state, by=by)
        return held[slot]

    def _last_standing(self, index: _Index) -> Entry | None:
        while index.order and index.order[-1] in index.voids:  # a voided entry never stands again
            index.order.pop()
        for identity in reversed(index.order):
            place, slot = index.slots[identity]
            entry = self._at(place)[slot]
            if entry.stands:
                return entry
        return None

    def _at(self, place: Slot) -> list[Entry]:
        return _opened(self.entries, self.origin.entries, place)

    def _index(self) -> _Index:
        if self.index is None:
            self.index = _Index()
            held = {**self.origin.entries, **self.entries}
            known = [(entry, slot) for entries in held.values() for slot, entry in enumerate(entries)]
            for entry, slot in sorted(known, key=lambda pair: pair[0].number):
                self.index.add(entry, slot)
        return self.index


class _Index:
    """The place of every entry, by its event's id, and its corrections and voids."""

    def __init__(self) -> None:
        self.slots: dict[str, tuple[Slot, int]] = {}
        self.corrections: dict[str, list[str]] = {}
        self.voids: dict[str, str] = {}
        self.order: list[str] = []

    def add(self, entry: Entry, slot: int) -> None:
        identity = entry.event.id
        draft = entry.event.draft
        if draft.kind is Kind.CORRECTION and draft.refers_to in self.slots:
            self.corrections.setdefault(draft.refers_to, []).append(identity)
        if entry.state is Fate.VOIDED and entry.by is not None:
            self.voids[identity] = entry.by
        self.slots[identity] = (entry.check, entry.position), slot
        self.order.append(identity)


T = TypeVar("T")


def _opened(changed: dict[Slot, list[T]], shared: Mapping[Slot, tuple[T, ...]], place: Slot) -> list[T]:
    """Return the mutable list at a place, copying the shared one the first time."""
    held = changed.get(place)
    if held is None:
        held = changed[place] = list(shared.get(place, ()))
    return held


def _merged(
    shared: Mapping[Slot, tuple[T, ...]], changed: dict[Slot, list[T]]
) -> Mapping[Slot, tuple[T, ...]]:
    if not changed:
        return shared
    # a view's own copy keeps the hashes of its keys: hashing a place again is slow
    merged = shared.copy() if isinstance(shared, MappingProxyType) else dict(shared)
    merged.update((place, tuple(held)) for place, held in changed.items() if held)
    for place, held in changed.items():
        if not held:
            merged.pop(place, None)
    return MappingProxyType(merged)


@dataclass(frozen=True)
class Recorded:
    """One journal. `head` is the hash of its last event."""

    path: Path
    events: tuple[Event, ...]
    session: Session
    head: str

    @property
    def engine(self) -> str:
        """The plan's name for the engine on the bench."""
        return str(self.session.plan.engine)

    @property
    def began(self) -> Event:
        """The first event."""
        return self.events[0]

    @property
    def ended(self) -> datetime:
        """Time of the last event, UTC."""
        return self.events[-1].at

    def fact(self, name: str) -> str | None:
        """Return a fact from the opening of the session, such as `who` or `instrument`."""
        return self.session.facts.get(name)

    def question_before(self, event: Event) -> Event | None:
        """Return the question that was open when an event was logged, or None."""
        return fold(self.session.plan, self.events[: self.events.index(event)]).asked


def read(path: Path | str) -> Recorded:
    """Read a journal without changing it, including unsaved events kept beside it.

    Raises:
        JournalError: it is missing, isn't a journal, is damaged, or holds no session.
        PlanError: this version can't read its plan.
    """
    path = Path(path)
    with Journal.open(path, read_only=True) as journal:
        events = tuple(journal.events())
        head = journal.head
    if not events:
        raise JournalError(f"The journal {path} is empty: nothing was logged in it.")
    plan = parse_plan(plan_text(events), f"{path} (its plan)")
    return Recorded(path, events, fold(plan, events), head)
