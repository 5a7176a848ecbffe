"""The journal: every event of a session, on disk before it is answered, and never changed.

An event that can't be written at once (a full disk, a lock, a failing disk) is kept in memory in its
order, and in a second file where there is room for one. It is written with the next event, by
`retry`, or when the journal is next opened; `unsaved` and `trouble` say so, and the loop says it aloud.
"""

from __future__ import annotations

import sqlite3
import threading
from collections.abc import Callable
from contextlib import suppress
from dataclasses import replace
from datetime import UTC, datetime
from pathlib import Path
from types import TracebackType
from typing import Self

import handsfree
from handsfree.errors import JournalError
from handsfree.record import store
from handsfree.record.cells import shown
from handsfree.record.chain import START, link
from handsfree.record.event import Draft, Event
from handsfree.record.form import COLUMNS, columns, event_of
from handsfree.record.identity import Identities
from handsfree.record.schema import INSERT, SELECT, SELECT_FIRST, SELECT_LAST
from handsfree.record.unsaved import Unsaved

Clock = Callable[[], datetime]


def local_clock() -> datetime:
    """Give the time now, aware of the local offset."""
    return datetime.now(UTC).astimezone()


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
    ) -> None:
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
        if second is not None:
            self._pending = second.read(self._owner(), aside=not read_only)
            if self._pending and read_only:
                self._follow()
            elif self._pending:
                self._trouble = "taken over"
                self._write()

    @classmethod
    def open(
        cls,
        path: Path | str,
        *,
        clock: Clock = local_clock,
        identities: Identities | None = None,
        read_only: bool = False,
    ) -> Self:
        """Open the journal at `path`, making it if it isn't there; with `read_only` it must be there.

        Raises:
            JournalError: a folder, another program's file, a newer journal, a lock, a damaged or
                read-only file: one sentence with what to do.
        """
        path = Path(path)
        connection = store.connect_to_read(path) if read_only else store.connect(path)
        return cls(connection, path.resolve(), clock=clock, identities=identities, read_only=read_only)

    @classmethod
    def in_memory(cls, *, clock: Clock = local_clock, identities: Identities | None = None) -> Self:
        """Make a journal that ends with the program."""
        return cls(store.connect_in_memory(), clock=clock, identities=identities)

    @property
    def path(self) -> Path | None:
        """Where the journal is, with links followed; None in memory."""
        return self._path

    @property
    def unsaved(self) -> int:
        """How many events are kept in memory because they couldn't be written yet."""
        return len(self._pending)

    @property
    def trouble(self) -> str | None:
        """One sentence that says why events are unsaved and what to do; None when all is on disk."""
        return self._trouble

    @property
    def alarm(self) -> str | None:
        """The same as `trouble`, short enough to be spoken: "The disk is full. 3 events not saved."."""
        return self._alarm

    @property
    def head(self) -> str:
        """The hash of the last event, those in memory included."""
        with self._guard:
            last = self._head
            for event in self._pending:
                last = link(last, columns(event))
            return last

    def append(self, draft: Draft) -> Event:
        """Give the draft its number, identity and time, and write it; committed when this returns.

        Where it can't be written it is kept, `unsaved` and `trouble` say so, and the event is
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
            now = self._clock()
            offset = now.astimezone().utcoffset() if now.tzinfo is None else now.utcoffset()
            drafted = Event(
                id=self._identities.give(now.astimezone(UTC)),
                seq=self._seq + len(self._pending) + 1,
                at=now.astimezone(UTC),
                offset_minutes=0 if offset is None else round(offset.total_seconds() / 60),
                program=handsfree.__version__,
                draft=draft,
            )
            event = event_of(columns(drafted))  # as it will be read back
            self._pending.append(event)
            self._write()
            # Where another program wrote in between, the event was given the number after that one.
            return event if self._pending or self._newest is None else self._newest

    def retry(self) -> bool:
        """Try to write what is kept in memory; True when nothing is left unsaved."""
        with self._guard:
            if self._pending and not self._read_only:
                self._write()
            return not self._pending

    def events(self) -> list[Event]:
        """Read every event in its order, those in memory last.

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
        """Write what is still in memory, and close.

        Raises:
            JournalError: something couldn't be written. The sentence says where it is kept; the
                journal stays open so that closing can be tried again.
        """
        with self._guard:
            if self._connection is None:
                return
            if not self._read_only and not self.retry():
                raise JournalError(str(self._trouble))
            with suppress(sqlite3.Error):
                self._connection.close()
            self._connection = None

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, fault: BaseException | None, trace: TracebackType | None
    ) -> None:
        self.close()

    # -- writing ---------------------------------------------------------------------------------

    def _write(self) -> None:
        """Write all that is pending in one transaction, or keep it and say why not."""
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
        second = None if self._second is None else self._second.keep(self._pending, self._owner())
        count = len(self._pending)
        events = "1 event isn't" if count == 1 else f"{count} events aren't"
        where = "only in memory" if second is None else f"in {second}"
        self._trouble = f"{sentence} {events} in it yet, but kept {where} and written when it can be."
        self._alarm = f"{alarm} {events} saved yet."

    def _owner(self) -> str:
        """Give the id of the journal's first event, "" where there is none or it can't be read now."""
        try:
            row = self._connection.execute(SELECT_FIRST).fetchone() if self._connection else None
        except sqlite3.Error:
            row = None
        return str(row[0]) if row else ""

    def _commit(self) -> None:
        connection = self._connection
        assert connection is not None  # noqa: S101 - callers have looked
        connection.execute("BEGIN IMMEDIATE")
        # Another program may have appended meanwhile: events follow what is really the last one.
        seq, last_id, last = self._last(connection)
        self._identities.follow(last_id)
        written = []
        for kept in self._pending:
            # A commit that failed may have reached the disk all the same: never write it twice.
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
        if self._trouble is not None and self._second is not None:
            self._second.forget()
        self._trouble = self._alarm = None

    def _follow(self) -> None:
        """Number what is pending as it will be once written; what was written meanwhile is left out."""
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


def _file_of(path: Path) -> tuple[int, int] | None:
    try:
        found = path.stat()
    except OSError:
        return None
    return found.st_dev, found.st_ino
