"""Verifies a journal: finds events that were altered, removed or moved.

This reads the raw rows and not through `Journal`, so that it can check a journal that can't be opened any
more.
"""

from __future__ import annotations

import hashlib
import sqlite3
from collections.abc import Mapping
from contextlib import suppress
from dataclasses import dataclass
from itertools import count, islice
from pathlib import Path
from typing import Self

from handsfree.errors import JournalError
from handsfree.journal import store
from handsfree.journal.beside import NEWEST, Newest, Witness
from handsfree.journal.cells import Cell
from handsfree.journal.columns import COLUMNS, START, event_of, link
from handsfree.journal.event import Event
from handsfree.journal.sounds import Sounds
from handsfree.journal.unsaved import Unsaved, kept_whole

_SELECT_RAW = f"SELECT {', '.join((*COLUMNS, 'previous', 'hash'))} FROM event ORDER BY seq"  # noqa: S608 - our own names
_MOVES_TRIED = 100
_SMALL = 20_000  # letters


@dataclass(frozen=True, slots=True)
class JournalFault:
    """A fault of a journal. `seq` is the event's number, None for the whole journal."""

    seq: int | None
    sentence: str


@dataclass(frozen=True, slots=True)
class Verification:
    """Result of a verification. `head` is the hash of the last event in the file.

    noted: number of the newest event noted outside the journal; no event up to it was cut off.
    """

    events: int
    head: str
    faults: tuple[JournalFault, ...]
    noted: int | None = None

    @property
    def holds(self) -> bool:
        """Whether no fault was found."""
        return not self.faults


@dataclass(frozen=True, slots=True)
class StoredEvent:
    """A stored event of a journal or its copy, with its stored hashes."""

    cells: dict[str, Cell]
    previous: str
    hash: str

    @classmethod
    def of(cls, stored: Mapping[str, Cell]) -> Self:
        """Return a row from its columns, hashes included."""
        return cls({name: stored[name] for name in COLUMNS}, str(stored["previous"]), str(stored["hash"]))

    @property
    def event(self) -> Event:
        """The event itself."""
        return event_of(self.cells)

    @property
    def seq(self) -> int:
        """The event's number; 0 if the stored one is invalid."""
        seq = self.cells["seq"]
        return seq if isinstance(seq, int) else 0

    @property
    def is_small(self) -> bool:
        """Whether its hash is quick to compute."""
        return sum(len(cell) for cell in self.cells.values() if isinstance(cell, str)) < _SMALL

    def fits(self, seq: int) -> bool:
        """Return whether the row's hash is that of its content under the number `seq`."""
        try:
            return link(self.previous, {**self.cells, "seq": seq}) == self.hash
        except (TypeError, ValueError):  # a blob, or text that isn't Unicode: this program writes neither
            return False


def verify(
    path: Path, *, expected: str | None = None, sounds: bool = True, unsaved: bool = True
) -> Verification:
    """Check every event of the journal at `path` against the chain.

    Args:
        path: the journal.
        expected: a hash known from elsewhere (a build sheet, the shop's database) that must be in the
            chain. Only this detects a whole new chain.
        sounds: check the kept sounds too.
        unsaved: check the unsaved events in the second file too.

    Raises:
        JournalError: it can't be opened, or isn't a journal.
    """
    path = store.real_path(Path(path))
    newest = Witness(path).read()  # read before the journal, so that it can't be ahead of it
    try:
        connection = store.connect_to_read(path)
    except JournalError as fault:
        if not store.is_damage(fault.__cause__):
            raise
        why = f"The file is damaged from its start ({fault.__cause__}): nothing in it can be read."
        return Verification(0, START, (JournalFault(None, why),))
    faults: list[JournalFault] = []
    try:
        rows = _read(connection, faults)
        faults += _guards(connection)
    finally:
        connection.close()
    faults += _contents(rows) + _order(rows)
    if newest is not None:
        faults += _end(rows, newest)
    if unsaved:
        first, last = (str(rows[0].cells["id"]), rows[-1].hash) if rows else ("", START)
        faults += [JournalFault(None, one) for one in Unsaved(path).read(first, last, aside=False).reports]
    if expected is not None and expected.lower() not in {START, *(row.hash for row in rows)}:
        faults.append(
            JournalFault(
                None,
                f"The hash {expected} isn't in the journal: its end was cut off, or it was written anew.",
            )
        )
    if sounds:
        kept = Sounds.beside(path)
        named = [(row.seq, row.cells["sound"]) for row in rows if isinstance(row.cells["sound"], str)]
        faults += [JournalFault(seq, wrong) for seq, name in named if (wrong := kept.trust(str(name)))]
    faults.sort(key=lambda fault: (fault.seq is None, fault.seq or 0))
    noted = newest.seq if newest is not None and rows and rows[0].cells["id"] == newest.owner else None
    return Verification(len(rows), rows[-1].hash if rows else START, tuple(faults), noted)


def rows_of(path: Path) -> list[StoredEvent]:
    """Return every row of an intact journal.

    Raises:
        JournalError: it can't be read, or was altered.
    """
    path = store.real_path(Path(path))
    connection = store.connect_to_read(path)
    faults: list[JournalFault] = []
    try:
        rows = _read(connection, faults)
    finally:
        connection.close()
    sentence = faults[0].sentence if faults else first_fault(rows)
    if sentence is not None:
        raise JournalError(f"The journal {path} isn't as it was logged: {sentence}")
    return rows


@dataclass(frozen=True, slots=True)
class Proved:
    """The intact events of a damaged journal. head: its last stored hash."""

    events: tuple[Event, ...] = ()
    left_out: int = 0
    head: str = START


def proved(path: Path) -> Proved:
    """Return the events of a damaged journal that fit both their own hash and the next event.

    Accidental damage can't produce such an event; a forged hash doesn't fit the event after it.
    """
    newest = Witness(path).read()
    try:
        connection = store.connect_to_read(store.real_path(path))
    except JournalError:
        return Proved(left_out=newest.seq if newest else 0)
    try:
        rows = _read(connection, [])
    finally:
        connection.close()
    after = {row.seq - 1: row.previous for row in rows}
    if newest is not None:
        after.setdefault(newest.seq, newest.hash)
    events = []
    for row in rows:
        if row.fits(row.seq) and after.get(row.seq, row.hash) == row.hash:
            with suppress(JournalError):
                events.append(row.event)
    last = max(rows[-1].seq if rows else 0, newest.seq if newest else 0)
    return Proved(tuple(events), max(last, len(rows)) - len(events), rows[-1].hash if rows else START)


def first_fault(rows: list[StoredEvent]) -> str | None:
    """Return one sentence on the first fault in these rows of one journal, or None."""
    faults = sorted(_contents(rows) + _order(rows), key=lambda fault: fault.seq or 0)
    return faults[0].sentence if faults else None


def _read(connection: sqlite3.Connection, faults: list[JournalFault]) -> list[StoredEvent]:
    rows = []
    connection.text_factory = lambda raw: raw.decode("utf-8", "surrogateescape")
    try:
        for *cells, previous, own in connection.execute(_SELECT_RAW):
            rows.append(StoredEvent(dict(zip(COLUMNS, cells, strict=True)), str(previous), str(own)))
    except sqlite3.Error as fault:
        after = f"after event {rows[-1].seq}" if rows else "from its start"
        faults.append(
            JournalFault(None, f"The file is damaged {after} ({fault}): what follows can't be read.")
        )
    return rows


def _guards(connection: sqlite3.Connection) -> list[JournalFault]:
    """Check that the triggers that refuse changes are those that this program made."""
    wanted = store.connect_in_memory()
    try:
        select = "SELECT name, sql FROM sqlite_master WHERE type = 'trigger'"
        found, made = (dict(one.execute(select).fetchall()) for one in (connection, wanted))
    except sqlite3.Error:
        return []  # the damage is reported already
    finally:
        wanted.close()
    lost = sorted(name for name in made if found.get(name) != made[name])
    if not lost:
        return []
    return [
        JournalFault(None, f"The guards that refuse changes ({', '.join(lost)}) were removed or altered.")
    ]


def _end(rows: list[StoredEvent], newest: Newest) -> list[JournalFault]:
    """Detect a cut end by the note of the newest event outside the journal."""
    if rows and str(rows[0].cells["id"]) != newest.owner:
        return []  # another journal under this name; an altered first event would show in the chain
    last = rows[-1].seq if rows else 0
    if last < newest.seq:
        missing = (
            f"event {newest.seq} is" if newest.seq == last + 1 else f"events {last + 1} to {newest.seq} are"
        )
        return [
            JournalFault(
                None,
                f"The end was cut off: {missing} missing, though logged. If an older copy was put there "
                f"on purpose, move the file away that ends in {NEWEST} beside it.",
            )
        ]
    at = next((row for row in rows if row.seq == newest.seq), None)
    if at is None or at.hash != newest.hash:
        return [
            JournalFault(newest.seq, f"Event {newest.seq} isn't the one that was logged under that number.")
        ]
    return []


def put_aside(path: Path) -> list[Path]:
    """Copy a damaged journal and its companion files aside, each under a name with its content's hash.

    Raises:
        JournalError: there is no room for the copies.
    """
    made = []
    for end in ("", "-wal", "-journal", NEWEST):
        place = path.with_name(path.name + end)
        try:
            held = place.read_bytes()
        except FileNotFoundError:
            continue
        except OSError as fault:
            raise JournalError(f"{place} can't be read ({fault.strerror}).") from fault
        digest = hashlib.sha256(held).hexdigest()[:12]
        aside = path.with_name(f"{path.name}.damaged-{digest}{end}")
        if not aside.exists() and not kept_whole(aside, held):
            raise JournalError(f"{place} is damaged, and there is no room to copy it aside; free some space.")
        made.append(aside)
    return made


def _contents(rows: list[StoredEvent]) -> list[JournalFault]:
    """Return faults of rows that don't fit their own hash: altered, or logged under another number."""
    wrong = [row for row in rows if not row.fits(row.seq)]
    numbers = {row.seq for row in wrong[:_MOVES_TRIED]}
    present = {row.seq for row in rows}
    numbers |= set(islice((seq for seq in count(1) if seq not in present), _MOVES_TRIED))
    faults = []
    for tries, row in enumerate(wrong):
        near = {row.seq - 1, row.seq + 1}
        tried = sorted(
            near | (numbers if tries < _MOVES_TRIED and row.is_small else set()),
            key=lambda seq: abs(seq - row.seq),
        )
        was = next((seq for seq in tried if seq > 0 and row.fits(seq)), None)
        if was is None:
            faults.append(
                JournalFault(row.seq, f"Event {row.seq} was altered: its content doesn't give its hash.")
            )
        else:
            faults.append(JournalFault(row.seq, f"Event {row.seq} was moved: it was logged as number {was}."))
    return faults


def _order(rows: list[StoredEvent]) -> list[JournalFault]:
    """Return faults where an event doesn't follow the one before it."""
    faults = []
    before: StoredEvent | None = None
    for row in rows:
        wanted = START if before is None else before.hash
        expected = 1 if before is None else before.seq + 1
        if row.seq != expected:
            missing = (
                f"event {expected} is"
                if row.seq == expected + 1
                else f"events {expected} to {row.seq - 1} are"
            )
            faults.append(JournalFault(row.seq, f"Before event {row.seq} {missing} missing: removed."))
        elif row.previous != wanted:
            faults.append(
                JournalFault(
                    row.seq,
                    f"Event {row.seq} doesn't follow what stands before it: something before it was "
                    "altered, removed or put in after it was logged.",
                )
            )
        before = row
    return faults
