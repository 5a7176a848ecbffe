"""Continue in a new journal when the named one is damaged.

The damaged journal is left as it is. Every event of it that fits its hash and the chain is logged again in
the new one, with its original time and a note of its old place. The new journal's first event names the
damaged journal and the reason. The new file lies beside the damaged one, with a number after its name, and
is found there again when the damaged one is named the next time.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from itertools import count
from pathlib import Path

from handsfree.errors import JournalError
from handsfree.journal import store
from handsfree.journal.event import Event, Kind
from handsfree.journal.journal import Clock, DamagedJournalError, Journal, local_clock
from handsfree.journal.unsaved import Unsaved
from handsfree.journal.verify import Proved, proved

CONTINUES = "continues"
BECAUSE = "continues_because"


@dataclass(frozen=True, slots=True)
class Opened:
    """A journal opened for writing.

    reports: sentences for the user about the opening. facts: data for its first event besides the plan,
    where it replaces a damaged journal. instead: whether it replaces one.
    """

    journal: Journal
    reports: tuple[str, ...] = ()
    facts: dict[str, str] = field(default_factory=dict)
    instead: bool = False


def open_to_go_on(path: Path | str, *, clock: Clock = local_clock) -> Opened:
    """Open the journal at `path` for writing, or its replacement if it is damaged.

    Raises:
        JournalError: as in `Journal.open`, except for a damaged journal.
    """
    asked = store.real_path(Path(path))
    try:
        journal = Journal.open(asked, clock=clock)
    except DamagedJournalError as fault:
        return _instead(asked, fault, clock)
    return Opened(journal, journal.reports)


def _instead(asked: Path, damaged: DamagedJournalError, clock: Clock) -> Opened:
    reports, names = [_told(damaged)], {asked.name}
    for number in count(2):
        place = asked.with_name(f"{asked.stem}-{number}{asked.suffix}")
        if not _is_ours(place, names):
            continue
        try:
            journal = Journal.open(place, clock=clock)
        except DamagedJournalError as fault:
            damaged = fault
            names.add(place.name)
            reports.append(_told(fault))
            continue
        reports += journal.reports
        facts = {CONTINUES: damaged.path.name, BECAUSE: damaged.faults[0].sentence}
        if not journal.events():
            reports += _take_over(journal, damaged.path, facts)
        reports.append(f"Going on in {place}.")
        return Opened(journal, tuple(reports), {} if journal.events() else facts, instead=True)
    raise AssertionError("there is always another number")


def _told(fault: DamagedJournalError) -> str:
    return f"The journal {fault.path} is damaged: {fault.faults[0].sentence} It was left as it is."


def _is_ours(place: Path, names: set[str]) -> bool:
    """Return whether a path is free, or holds the replacement of one of these journals."""
    try:
        if not place.exists() or not place.stat().st_size:
            return True
        with Journal.open(place, read_only=True) as journal:
            events = journal.events()
    except JournalError:
        return False  # unknown; the next number will do
    return not events or events[0].draft.data.get(CONTINUES) in names


def _take_over(journal: Journal, path: Path, facts: dict[str, str]) -> list[str]:
    """Copy the proved events of a damaged journal, all in one step or none."""
    found = proved(path)
    events = _with_unsaved(path, found)
    if not events or events[0].kind is not Kind.OPENED:
        return ["Nothing of it could be taken over."]
    journal.carry(events, facts)
    lost = f" Not taken over: {found.left_out}." if found.left_out else ""
    return [f"Events taken over, each proved by its hash: {len(events)}.{lost}"]


def _with_unsaved(path: Path, found: Proved) -> list[Event]:
    events = list(found.events)
    known = {event.id for event in events}
    first = events[0].id if events else ""
    kept = Unsaved(path).read(first, found.head, aside=False).events
    return events + [event for event in kept if event.id not in known]
