"""Opens a journal's file, and words its faults.

Copies logged events from the write-ahead log into the database, in the background.

An event is safe in the log, but a single flipped bit there makes SQLite drop every later event. So events are
copied soon after they are logged: at each quiet moment, and every few seconds where there is none.
This uses its own connection and thread; SQLite lets others write meanwhile, so no reading waits.
"""

from __future__ import annotations

import errno
import sqlite3
import stat
import threading
import time
from contextlib import closing, suppress
from pathlib import Path

from handsfree import files
from handsfree.errors import JournalError
from handsfree.journal.schema import APPLICATION_ID, MIGRATIONS, check_ours, check_shape, migrate, version

SOUNDS = ".sounds"
"""Name suffix of the folder with a journal's sounds."""

COMPANIONS = ("-wal", "-shm", "-journal", ".unsaved", ".newest", ".lock", SOUNDS)
"""Suffixes to a journal's name that form the names of its companion files."""

_MAGIC = b"SQLite format 3\0"
_LOCK_WAIT_S = 0.25  # after a longer wait the person at the bench thinks that nothing was heard


def connect(path: Path) -> sqlite3.Connection:
    """Open or create a journal for writing, at today's version, with every commit forced to disk.

    Raises:
        JournalError: it can't be opened; one sentence with the cause.
    """
    path = real_path(path)
    check_file(path)
    connection = None
    with suppress(OSError):  # SQLite's own error is clearer
        files.make_private_file(path)  # files that SQLite makes beside it get the same mode
    mend(path)
    try:
        connection = _attach(path, "rwc")
        check_ours(connection, str(path), MIGRATIONS)
        # The tables are made before WAL is switched on, so that a crash leaves an empty or a whole file.
        connection.execute("PRAGMA synchronous = FULL")
        connection.execute("PRAGMA fullfsync = ON")  # macOS; elsewhere it changes nothing
        migrate(connection, MIGRATIONS)
        check_shape(connection, str(path))
        mode = connection.execute("PRAGMA journal_mode = WAL").fetchone()[0]
    except (sqlite3.Error, JournalError) as fault:
        if connection is not None:
            connection.close()
        if isinstance(fault, JournalError):
            raise
        raise JournalError(sentence(fault, path)) from fault
    if mode != "wal":
        connection.close()
        raise JournalError(
            f"{path} is on a disk where a journal can't be kept safely (no write-ahead log); use a local one."
        )
    return connection


def connect_to_read(path: Path) -> sqlite3.Connection:
    """Open an existing journal for reading only; an older one is migrated in memory.

    Raises:
        JournalError: it is missing, isn't a journal, or can't be read.
    """
    path = real_path(path)
    if not path.exists():
        raise JournalError(f"There is no journal {path}; check the name.")
    check_file(path)
    mend(path)
    connection = None
    try:
        connection = _closed_copy(path) or _attach(path, "ro")
        try:
            version(connection)
        except sqlite3.OperationalError as fault:
            if not _is(fault, sqlite3.SQLITE_CANTOPEN, sqlite3.SQLITE_READONLY):
                raise
            # A read-only folder has no room for the log's index; an empty log needs none.
            copy = _closed_copy(path, empty_log=True)
            if copy is None:
                raise
            connection.close()
            connection = copy
        check_ours(connection, str(path), MIGRATIONS)
        if version(connection) < len(MIGRATIONS):
            copy = sqlite3.connect(":memory:", isolation_level=None, check_same_thread=False)
            connection.backup(copy)
            connection.close()
            connection = copy
            migrate(connection, MIGRATIONS)
        check_shape(connection, str(path))
    except (sqlite3.Error, JournalError) as fault:
        if connection is not None:
            connection.close()
        if isinstance(fault, JournalError):
            raise
        raise JournalError(sentence(fault, path)) from fault
    return connection


def _closed_copy(path: Path, *, empty_log: bool = False) -> sqlite3.Connection | None:
    """Return an in-memory copy of a closed journal; None if it is open or was written meanwhile.

    SQLite, even when it only reads, leaves files beside a database, and can't open it at all in a read-only
    folder. `empty_log`: also copy if an empty log lies beside it.
    """
    before = _at_rest(path, empty_log)
    if before is None:
        return None
    copy = sqlite3.connect(":memory:", isolation_level=None, check_same_thread=False)
    source = _attach(path, "ro&immutable=1")
    try:
        source.backup(copy)
    except sqlite3.Error:
        copy.close()
        if _at_rest(path, empty_log) == before:
            raise
        return None
    finally:
        source.close()
    if _at_rest(path, empty_log) == before:
        return copy
    copy.close()
    return None


def _at_rest(path: Path, empty_log: bool) -> tuple[int, int] | None:
    """Return (size, mtime in ns) of a closed journal; None while a log lies beside it."""
    for log in (path.with_name(path.name + end) for end in ("-wal", "-journal")):
        with suppress(FileNotFoundError):  # a program that has it open may remove it at any time
            if log.stat().st_size or not empty_log:
                return None
    found = path.stat()
    return found.st_size, found.st_mtime_ns


def connect_beside(path: Path) -> sqlite3.Connection:
    """Open another connection to a journal that this program has open for writing."""
    connection = _attach(path, "rw")
    connection.execute("PRAGMA synchronous = FULL")
    connection.execute("PRAGMA fullfsync = ON")
    return connection


def settle(path: Path) -> None:
    """Undo an unfinished creation or migration of a journal by a program that was killed.

    Only then a rollback journal lies beside it; SQLite applies that when it opens the file for writing.
    """
    if not path.with_name(path.name + "-journal").exists():
        return
    try:
        connection = _attach(path, "rw")
        try:
            version(connection)
        finally:
            connection.close()
    except sqlite3.Error as fault:
        raise JournalError(sentence(fault, path)) from fault


def connect_in_memory() -> sqlite3.Connection:
    """Return a connection to a new journal in memory."""
    connection = sqlite3.connect(":memory:", isolation_level=None, check_same_thread=False)
    migrate(connection, MIGRATIONS)
    return connection


def real_path(path: Path) -> Path:
    """Return the path with links resolved, so that the log lies beside the journal itself.

    Raises:
        JournalError: the link leads nowhere or round in a circle.
    """
    try:
        resolved = path.resolve(strict=path.is_symlink())
    except (OSError, RuntimeError, ValueError) as fault:
        raise JournalError(f"{path} is a link that leads nowhere; name the journal itself.") from fault
    return resolved


def check_file(path: Path) -> None:
    """Check that a journal is or can be created at a path, without touching it.

    Raises:
        JournalError: the folder is missing, or the file is not a journal.
    """
    try:
        found = path.stat()
    except FileNotFoundError:
        if not path.parent.is_dir():
            raise JournalError(f"The folder {path.parent} doesn't exist; make it, or name another.") from None
        return
    except (OSError, ValueError) as fault:
        raise JournalError(f"The journal {path} can't be reached ({_reason(fault)}).") from fault
    if stat.S_ISDIR(found.st_mode):
        raise JournalError(f"{path} is a folder, not a journal; name a file in it.")
    if not stat.S_ISREG(found.st_mode):
        raise JournalError(f"{path} is not a file, so it can't be a journal; name another.")
    try:
        with path.open("rb") as file:
            header = file.read(100)
    except OSError as fault:
        raise JournalError(f"The journal {path} can't be read ({_reason(fault)}).") from fault
    if not header:
        return
    if header[:16] != _MAGIC or len(header) < 100:
        raise JournalError(f"{path} is not a handsfree journal; it was left as it is: name another file.")
    if int.from_bytes(header[68:72], "big") != APPLICATION_ID:
        raise JournalError(
            f"{path} is another program's database, not a handsfree journal; it was left as it is: "
            "name another file."
        )


def mend(path: Path) -> None:
    """Make a journal and its companion files private to this user."""
    if not is_journal(path):
        return
    for each in (path, *(path.with_name(path.name + end) for end in COMPANIONS)):
        files.mend(each)


def is_journal(path: Path) -> bool:
    """Return whether the file at `path` is a journal, judging by its first bytes."""
    try:
        if not path.is_file():  # opening a pipe would block
            return False
        with path.open("rb") as file:
            header = file.read(100)
    except (OSError, ValueError):
        return False
    return header[:16] == _MAGIC and int.from_bytes(header[68:72], "big") == APPLICATION_ID


def sentence(fault: sqlite3.Error, path: Path | str) -> str:
    """Return one sentence with a fault's cause and remedy."""
    if _is(fault, sqlite3.SQLITE_FULL):
        return f"The disk is full, so the journal {path} can't be written; free some space."
    if _is(fault, sqlite3.SQLITE_BUSY, sqlite3.SQLITE_LOCKED):
        return f"Another program is holding the journal {path}; close it there."
    if _is(fault, sqlite3.SQLITE_READONLY, sqlite3.SQLITE_PERM):
        return f"The journal {path} can't be written: it or its folder is read-only; change that."
    if _is(fault, sqlite3.SQLITE_CANTOPEN):
        return f"The journal {path} can't be opened: its folder is missing or read-only; name another."
    if _is(fault, sqlite3.SQLITE_NOTADB):
        return f"{path} is not a handsfree journal; it was left as it is: name another file."
    if _is(fault, sqlite3.SQLITE_CORRUPT):
        return (
            f"The journal {path} is damaged; copy it to a safe place, see with `handsfree journal verify` "
            "what can be read, and go on in a new one."
        )
    if _is(fault, sqlite3.SQLITE_IOERR):
        return f"The disk failed under the journal {path}; check the disk and its cable."
    return f"The journal {path} can't be used ({fault})."


def no_place(fault: OSError, path: Path) -> str:
    """Return one sentence with the reason why a file beside a journal can't be created."""
    if fault.errno in (errno.ENOSPC, errno.EDQUOT):
        return f"The disk is full, so the journal {path} can't be written; free some space."
    if fault.errno in (errno.EACCES, errno.EPERM, errno.EROFS):
        return f"The journal {path} can't be written: it or its folder is read-only; change that."
    return f"The journal {path} can't be opened for writing ({_reason(fault)})."


def is_damage(fault: BaseException | None) -> bool:
    """Return whether a fault means that the file itself is damaged."""
    return isinstance(fault, sqlite3.Error) and _is(fault, sqlite3.SQLITE_CORRUPT)


def alarm(fault: sqlite3.Error) -> str:
    """Return a fault's short spoken form."""
    if _is(fault, sqlite3.SQLITE_FULL):
        return "The disk is full."
    if _is(fault, sqlite3.SQLITE_BUSY, sqlite3.SQLITE_LOCKED):
        return "Another program holds the journal."
    if _is(fault, sqlite3.SQLITE_READONLY, sqlite3.SQLITE_PERM):
        return "The journal is read-only."
    return "The journal can't be written."


def _attach(path: Path, mode: str) -> sqlite3.Connection:
    return sqlite3.connect(
        f"{path.as_uri()}?mode={mode}",
        uri=True,
        timeout=_LOCK_WAIT_S,
        isolation_level=None,  # transactions are begun and ended explicitly
        check_same_thread=False,  # the journal has a lock of its own
    )


def _is(fault: sqlite3.Error, *codes: int) -> bool:
    code = getattr(fault, "sqlite_errorcode", None)
    return code is not None and (code & 0xFF) in codes


def _reason(fault: Exception) -> str:
    return (getattr(fault, "strerror", None) or str(fault)).lower()


QUIET_S = 0.5
AT_LATEST_S = 3.0


class Checkpoints:
    """The background checkpoints of one open journal; they begin with the first logged event."""

    def __init__(self, path: Path) -> None:
        self._path = path
        self._thread: threading.Thread | None = None
        self._changed = threading.Condition()
        self._waiting = False
        self._over = False
        self._last = 0.0

    def logged(self) -> None:
        """Note that an event was logged."""
        with self._changed:
            self._last = time.monotonic()
            if not self._waiting:
                self._waiting = True
                self._changed.notify()
        if self._thread is None:
            self._thread = threading.Thread(target=self._work, name="checkpoints", daemon=True)
            self._thread.start()

    def close(self) -> None:
        """Stop the thread; closing the journal copies the rest of the log."""
        with self._changed:
            self._over = True
            self._changed.notify()
        if self._thread is not None:
            self._thread.join()
            self._thread = None

    def _work(self) -> None:
        with suppress(sqlite3.Error), closing(connect_beside(self._path)) as connection:
            while self._is_due():
                # A reader of the journal may hold some of it back; the next checkpoint takes that.
                with suppress(sqlite3.OperationalError):
                    connection.execute("PRAGMA wal_checkpoint(PASSIVE)").fetchone()

    def _is_due(self) -> bool:
        """Wait for an event, then a limited time for a quiet moment; return False when closed."""
        with self._changed:
            self._changed.wait_for(lambda: self._waiting or self._over)
            latest = time.monotonic() + AT_LATEST_S
            while not self._over:
                left = min(self._last + QUIET_S, latest) - time.monotonic()
                if left <= 0:
                    break
                self._changed.wait(left)
            self._waiting = False
            return not self._over
