"""The journal: every event of a session, on disk before its answer, and never changed.

An event that can't be written at once (a full disk, a lock, a failing disk) is kept in memory in its
order, and in a second file where there is room for one. It is written with the next event, by
`retry`, or when the journal is next opened; `unsaved` and `trouble` say so, and the loop says it aloud.

One program at a time writes a journal. Opening it for writing checks it: nothing is ever appended to a
damaged journal.
"""

from __future__ import annotations

import sqlite3
import threading
from collections.abc import Callable, Mapping, Sequence
from contextlib import suppress
from dataclasses import replace
from datetime import UTC, datetime
from pathlib import Path
from types import TracebackType
from typing import Self

import handsfree
from handsfree.errors import JournalError
from handsfree.journal import store
from handsfree.journal.beside import Hold, Newest, Witness
from handsfree.journal.cells import shown
from handsfree.journal.columns import COLUMNS, START, columns, event_of, link
from handsfree.journal.event import Draft, Event, Identities
from handsfree.journal.schema import INSERT, SELECT, SELECT_FIRST, SELECT_LAST
from handsfree.journal.store import Checkpoints
from handsfree.journal.unsaved import KeptEvents, Unsaved
from handsfree.journal.verify import JournalFault, put_aside, verify

CARRIED = "carried"
"""Key in an event's data: its old place in the damaged journal from which it was copied."""

Clock = Callable[[], datetime]


def local_clock() -> datetime:
    """Return the current time, with the local offset."""
    return datetime.now(UTC).astimezone()


class DamagedJournalError(JournalError):
    """A damaged or altered journal: nothing may be appended to it."""

    def __init__(self, path: Path, faults: tuple[JournalFault, ...]) -> None:
        more = "" if len(faults) == 1 else f" And {len(faults) - 1} more such."
        super().__init__(
            f"The journal {path} is damaged: it isn't as it was logged, so nothing is added to it. "
            f"{faults[0].sentence}{more} `handsfree journal verify` says more; go on in a new one."
        )
        self.path = path
        self.faults = faults


class Journal:
    """An append-only file of events. Open it with `Journal.open` or `Journal.in_memory`."""

    def __init__(
        self,
        connection: sqlite3.Connection,
        path: Path | None = None,
        *,
        clock: Clock = local_clock,
        identities: Identities | None = None,
        read_only: bool = False,
        hold: Hold | None = None,
    ) -> None:
        self._hold = hold
        self._witness = None if path is None or read_only else Witness(path)
        self._checkpoints = None if path is None or read_only else Checkpoints(path)
        self.reports: tuple[str, ...] = ()
        self._connection: sqlite3.Connection | None = connection
        self._path = path
        self._file = None if path is None else _file_of(path)
        self._clock = clock
        self._read_only = read_only
        self._pending: list[Event] = []
        self._newest: Event | None = None
        self._trouble: str | None = None
        self._alarm: str | None = None
        self._guard = threading.RLock()
        second = None if path is None else Unsaved(path)
        self._second = None if read_only else second
        try:
            self._seq, last_id, self._head = self._last(connection)
        except sqlite3.Error as fault:
            connection.close()
            raise JournalError(store.sentence(fault, path or "in memory")) from fault
        self._identities = identities or Identities()
        self._identities.follow(last_id)
        self._first = self._owner()
        self._testify()
        if second is not None:
            self._take_in(second.read(self._first, self._head, aside=not read_only))

    @classmethod
    def open(
        cls,
        path: Path | str,
        *,
        clock: Clock = local_clock,
        identities: Identities | None = None,
        read_only: bool = False,
    ) -> Self:
        """Open the journal at `path`; create it if missing, unless `read_only`.

        Raises:
            DamagedJournalError: it was opened for writing and is damaged or altered. It was copied aside
                and left as it is.
            JournalError: it is a folder, another program's file, a newer journal, locked, damaged or
                read-only, or has another writer; one sentence with the remedy.
        """
        path = store.real_path(Path(path))
        if read_only:
            connection = store.connect_to_read(path)
            return cls(connection, path, clock=clock, identities=identities, read_only=True)
        store.check_file(path)
        hold = Hold.take(path)
        try:
            _check(path)
            connection = store.connect(path)
            return cls(connection, path, clock=clock, identities=identities, hold=hold)
        except BaseException:
            hold.release()
            raise

    @classmethod
    def in_memory(cls, *, clock: Clock = local_clock, identities: Identities | None = None) -> Self:
        """Return a journal that ends with the program."""
        return cls(store.connect_in_memory(), clock=clock, identities=identities)

    @property
    def path(self) -> Path | None:
        """Path of the journal with links resolved; None in memory."""
        return self._path

    @property
    def unsaved(self) -> int:
        """Number of events kept in memory because they couldn't be written yet."""
        return len(self._pending)

    @property
    def trouble(self) -> str | None:
        """Cause and remedy of unsaved events, one sentence; None when all events are on disk."""
        return self._trouble

    @property
    def alarm(self) -> str | None:
        """A spoken form of `trouble`: "The disk is full. 3 events not saved."."""
        return self._alarm

    @property
    def head(self) -> str:
        """Hash of the last event, unsaved ones included."""
        with self._guard:
            last = self._head
            for event in self._pending:
                last = link(last, columns(event))
            return last

    def append(self, draft: Draft) -> Event:
        """Write a draft and return its event; it is committed when this returns.

        An event that can't be written is kept in memory, counted in `unsaved` and explained in `trouble`, and
        returned all the same: it is never dropped.

        Raises:
            JournalError: the journal is closed or open for reading only, or a length in the draft
                is not a finite number.
        """
        with self._guard:
            if self._connection is None:
                raise JournalError("The journal is closed, so nothing can be logged; open it again.")
            if self._read_only:
                raise JournalError(f"The journal {self._path} was opened for reading only.")
            event = self._made(draft, self._clock())
            self._pending.append(event)
            self._write()
            # If another program wrote in between, the event has the number after that one's.
            return event if self._pending or self._newest is None else self._newest

    def carry(self, events: Sequence[Event], facts: Mapping[str, str]) -> None:
        """Copy the events of a damaged journal, with their original times, in one transaction.

        Each gets a number and identity of this journal, and a note of its old place; references between
        events are changed to the new identities. The first one also gets `facts`. A kept sound stays with
        the damaged journal, so its name goes into the note.
        """
        with self._guard:
            ids: dict[str, str] = {}
            for number, event in enumerate(events):
                draft = event.draft
                mark: dict[str, object] = {"id": event.id, "seq": event.seq}
                heard = draft.heard
                if heard is not None and heard.sound is not None:
                    mark["sound"], heard = heard.sound, replace(heard, sound=None)
                data = {**draft.data, **({} if number else facts), CARRIED: mark}
                refers = None if draft.refers_to is None else ids.get(draft.refers_to, draft.refers_to)
                made = self._made(replace(draft, heard=heard, data=data, refers_to=refers), event.local)
                ids[event.id] = made.id
                self._pending.append(made)
            self._write()

    def _made(self, draft: Draft, now: datetime) -> Event:
        """Return a draft's event, numbered after all others, in the form in which it will be read back."""
        offset = now.astimezone().utcoffset() if now.tzinfo is None else now.utcoffset()
        drafted = Event(
            id=self._identities.give(now.astimezone(UTC)),
            seq=self._seq + len(self._pending) + 1,
            at=now.astimezone(UTC),
            offset_minutes=0 if offset is None else round(offset.total_seconds() / 60),
            program=handsfree.__version__,
            draft=draft,
        )
        return event_of(columns(drafted))

    def retry(self) -> bool:
        """Try to write the events kept in memory; return True when nothing is left unsaved."""
        with self._guard:
            if self._pending and not self._read_only:
                self._write()
            return not self._pending

    def events(self) -> list[Event]:
        """Return every event in order, the unsaved ones last.

        Raises:
            JournalError: the journal is closed or damaged.
        """
        with self._guard:
            if self._connection is None:
                raise JournalError("The journal is closed, so it can't be read; open it again.")
            try:
                rows = self._connection.execute(SELECT).fetchall()
            except sqlite3.Error as fault:
                raise JournalError(store.sentence(fault, self._path or "in memory")) from fault
            kept = [event_of(dict(zip(COLUMNS, row, strict=True))) for row in rows]
            return kept + self._pending

    def close(self) -> None:
        """Write the events still in memory, and close.

        Raises:
            JournalError: some events couldn't be written. The sentence says where they are kept; the
                journal stays open so that closing can be tried again.
        """
        with self._guard:
            if self._connection is None:
                return
            if not self._read_only and not self.retry():
                raise JournalError(str(self._trouble))
            if self._checkpoints is not None:
                self._checkpoints.close()
            with suppress(sqlite3.Error):
                self._connection.close()
            self._connection = None
            if self._witness is not None:
                self._witness.close()
            if self._hold is not None:
                self._hold.release()

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, fault: BaseException | None, trace: TracebackType | None
    ) -> None:
        self.close()

    def _take_in(self, found: KeptEvents) -> None:
        """Append the events that an earlier program kept beside the journal."""
        self._pending, self.reports = found.events, tuple(found.reports)
        if self._pending and self._read_only:
            self._follow()
        elif self._pending:
            self._trouble = "taken over"
            self._write()

    def _testify(self) -> None:
        """Note the newest event outside the database."""
        if self._witness is not None and self._seq:
            self._witness.write(Newest(self._first, self._seq, self._head))

    # -- writing ---------------------------------------------------------------------------------

    def _write(self) -> None:
        """Write all pending events in one transaction, or keep them and note the cause."""
        trouble = self._moved()
        if trouble is None:
            try:
                self._commit()
            except sqlite3.Error as fault:
                self._undo()
                trouble = store.sentence(fault, self._path or "in memory"), store.alarm(fault)
        if trouble is not None:
            self._keep(*trouble)

    def _keep(self, sentence: str, alarm: str) -> None:
        second = None if self._second is None else self._second.keep(self._pending, self._owner(), self._head)
        count = len(self._pending)
        events = "1 event isn't" if count == 1 else f"{count} events aren't"
        where = "only in memory" if second is None else f"in {second}"
        self._trouble = f"{sentence} {events} in it yet, but kept {where} and written when it can be."
        self._alarm = f"{alarm} {events} saved yet."

    def _owner(self) -> str:
        """Return the id of the journal's first event; "" if there is none or it can't be read now."""
        try:
            row = self._connection.execute(SELECT_FIRST).fetchone() if self._connection else None
        except sqlite3.Error:
            row = None
        return str(row[0]) if row else ""

    def _commit(self) -> None:
        connection = self._connection
        assert connection is not None  # noqa: S101 - callers have looked
        connection.execute("BEGIN IMMEDIATE")
        # Another program may have appended meanwhile: follow the event that is now the last.
        seq, last_id, last = self._last(connection)
        self._identities.follow(last_id)
        written = []
        for kept in self._pending:
            # A failed commit may have reached the disk all the same: never write an event twice.
            if (
                self._trouble
                and connection.execute("SELECT 1 FROM event WHERE id = ?", (kept.id,)).fetchone()
            ):
                continue
            seq += 1
            event = kept if kept.seq == seq else replace(kept, seq=seq)
            cells = columns(event)
            following = link(last, cells)
            connection.execute(INSERT, (*cells.values(), last, following))
            last = following
            written.append(event)
        connection.execute("COMMIT")
        self._seq, self._head = seq, last
        self._newest = written[-1] if written else None
        self._pending.clear()
        self._first = self._first or self._owner()
        self._testify()
        if self._checkpoints is not None:
            self._checkpoints.logged()
        if self._trouble is not None and self._second is not None:
            self._second.forget()
        self._trouble = self._alarm = None

    def _follow(self) -> None:
        """Number the pending events for writing; drop those that were written meanwhile."""
        connection = self._connection
        assert connection is not None  # noqa: S101 - just opened
        ids = {str(row[0]) for row in connection.execute("SELECT id FROM event")}
        kept = [event for event in self._pending if event.id not in ids]
        self._pending = [replace(event, seq=self._seq + n) for n, event in enumerate(kept, start=1)]

    def _undo(self) -> None:
        connection = self._connection
        if connection is not None and connection.in_transaction:
            with suppress(sqlite3.Error):
                connection.execute("ROLLBACK")

    def _moved(self) -> tuple[str, str] | None:
        if self._path is None or _file_of(self._path) == self._file:
            return None
        return (
            f"The journal {self._path} was moved or deleted while it was open; put it back.",
            "The journal was moved or deleted.",
        )

    @staticmethod
    def _last(connection: sqlite3.Connection) -> tuple[int, str, str]:
        row = connection.execute(SELECT_LAST).fetchone()
        if row and not isinstance(row[0], int):
            raise sqlite3.DataError(f"the number of its last event is {shown(row[0])}")
        return (int(row[0]), str(row[1]), str(row[2])) if row else (0, "", START)


def _check(path: Path) -> None:
    """Check that a journal is as it was logged; a missing one passes.

    Raises:
        DamagedJournalError: it is damaged or altered; it was copied aside.
        JournalError: it can't be read, or there is no room for the copies.
    """
    if not path.exists():
        Witness(path).put_aside()
        return
    store.settle(path)
    found = verify(path, sounds=False, unsaved=False)
    if found.faults:
        put_aside(path)
        raise DamagedJournalError(path, found.faults)


def _file_of(path: Path) -> tuple[int, int] | None:
    try:
        found = path.stat()
    except OSError:
        return None
    return found.st_dev, found.st_ino
