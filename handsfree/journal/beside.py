"""The files beside a journal: the lock of its one writer, and a note of its newest event.

*Lock.* A writer of a journal locks a file beside it, which names the writer. The operating system ends the
lock with its process, however that dies: a lock file left by a killed program blocks nobody. Children don't
inherit the lock, since Python closes its files when it starts another program. The lock works between
programs of one machine; keep journals on a local disk.

*Newest.* SQLite silently drops an unreadable end of its write-ahead log; the chain of the remaining events is
whole. So a small file holds the number and hash of the newest event, outside the database, to detect a cut
end. It is written and forced to the disk after each commit, before the event is acknowledged. It has two
slots that are written in turn, each with its own checksum: a power cut while one is written leaves the other.
The file may be behind the journal by the last commit, but never ahead of it.
"""

from __future__ import annotations

import hashlib
import json
import os
import socket
import sys
from contextlib import suppress
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path

from handsfree.errors import JournalError
from handsfree.files import force_folder
from handsfree.journal import store
from handsfree.journal.cells import object_of

LOCK = ".lock"
_TRIES = 20  # another program may remove the file between opening and locking, but not this often
_FAR = 1 << 30  # the byte that Windows locks: the text before it stays readable


@dataclass(frozen=True, slots=True)
class Holder:
    """The writer of a journal; unknown fields are empty."""

    pid: int | None = None
    host: str = ""
    since: str = ""

    def __str__(self) -> str:
        told = "another program" if self.pid is None else f"process {self.pid}"
        told += f" on {self.host}" if self.host else ""
        return told + (f" since {self.since}" if self.since else "")


class Hold:
    """The right to write one journal, until it is released or the process ends."""

    def __init__(self, path: Path, handle: int) -> None:
        self._path = path
        self._handle: int | None = handle

    @classmethod
    def take(cls, journal: Path) -> Hold:
        """Lock a journal for writing.

        Raises:
            JournalError: another program holds the lock, or the file can't be created.
        """
        path = journal.with_name(journal.name + LOCK)
        for _ in range(_TRIES):
            try:
                handle = os.open(path, os.O_RDWR | os.O_CREAT | getattr(os, "O_NOFOLLOW", 0), 0o600)
            except OSError as fault:
                raise JournalError(store.no_place(fault, journal)) from fault
            try:
                _lock(handle)
            except OSError:
                holder = _told(handle)
                os.close(handle)
                raise JournalError(
                    f"The journal {journal} is being written by {holder}; close it there. Meanwhile "
                    f"`handsfree journal show` shows how far it is."
                ) from None
            if _is_at(path, handle):
                hold = cls(path, handle)
                hold._sign()
                return hold
            os.close(handle)  # its last holder has just removed it: this lock protects nothing
        raise JournalError(f"The journal {journal} is opened and closed by others all the time; try again.")

    def release(self) -> None:
        """Release the lock and remove its file; a second call does nothing."""
        handle, self._handle = self._handle, None
        if handle is None:
            return
        if sys.platform != "win32" and _is_at(self._path, handle):
            with suppress(OSError):
                self._path.unlink()  # while still locked, so that nobody else can hold it
        os.close(handle)

    def __del__(self) -> None:
        if getattr(self, "_handle", None) is not None:
            self.release()

    def _sign(self) -> None:
        """Write the holder's name into the file. If the disk is full the lock holds all the same."""
        assert self._handle is not None  # noqa: S101 - just taken
        since = datetime.now(UTC).astimezone().isoformat(sep=" ", timespec="seconds")
        told = json.dumps({"pid": os.getpid(), "host": socket.gethostname(), "since": since})
        with suppress(OSError):
            os.ftruncate(self._handle, 0)
            os.lseek(self._handle, 0, os.SEEK_SET)
            os.write(self._handle, told.encode() + b"\n")


def _told(handle: int) -> Holder:
    with suppress(OSError, ValueError, TypeError, KeyError):
        os.lseek(handle, 0, os.SEEK_SET)
        told = object_of("line", os.read(handle, 4096).decode())
        return Holder(int(told["pid"]), str(told["host"])[:80], str(told["since"])[:40])
    return Holder()


def _is_at(path: Path, handle: int) -> bool:
    try:
        return os.path.samestat(path.stat(), os.fstat(handle))
    except OSError:
        return False


if sys.platform == "win32":
    import msvcrt

    def _lock(handle: int) -> None:
        os.lseek(handle, _FAR, os.SEEK_SET)
        msvcrt.locking(handle, msvcrt.LK_NBLCK, 1)

else:
    import fcntl

    def _lock(handle: int) -> None:
        # Not lockf: its lock is lost as soon as the process closes any handle of the file.
        fcntl.flock(handle, fcntl.LOCK_EX | fcntl.LOCK_NB)


NEWEST = ".newest"
_PLACE = 512  # bytes of a slot: a disk writes that many at once or not at all
_PLACES = 2


@dataclass(frozen=True, slots=True)
class Newest:
    """The newest event that was acknowledged. `owner`: id of the journal's first event."""

    owner: str
    seq: int
    hash: str


class Witness:
    """The file beside one journal."""

    def __init__(self, journal: Path) -> None:
        self.path = journal.with_name(journal.name + NEWEST)
        self._handle: int | None = None
        self._turn = 0
        self._known: Newest | None = None

    def read(self) -> Newest | None:
        """Return the newest known event, or None."""
        try:
            with self.path.open("rb") as file:
                held = file.read(_PLACES * _PLACE)
        except OSError:
            return None
        found = [_parsed(held[start : start + _PLACE]) for start in range(0, len(held), _PLACE)]
        known = [(one.seq, place, one) for place, one in enumerate(found) if one is not None]
        if not known:
            return None
        _, place, self._known = max(known, key=lambda one: one[:2])
        self._turn = (place + 1) % _PLACES
        return self._known

    def write(self, newest: Newest) -> None:
        """Write the newest event, forced to the disk.

        If that fails nothing is lost, because the event is in the journal; the file is then behind.
        """
        if newest == self._known:
            return
        try:
            if self._handle is None:
                self._handle = self._opened()
            os.lseek(self._handle, self._turn * _PLACE, os.SEEK_SET)
            os.write(self._handle, _written(newest))
            _force(self._handle)
        except OSError:
            self.close()
            return
        self._known = newest
        self._turn = (self._turn + 1) % _PLACES

    def put_aside(self) -> None:
        """Rename the file of a journal that is gone, to free its name for a new one."""
        known = self.read()
        if known is not None:
            with suppress(OSError):
                self.path.replace(self.path.with_name(f"{self.path.name}-{known.owner}"))
            self._known, self._turn = None, 0

    def close(self) -> None:
        """Close the file, without removing it."""
        handle, self._handle = self._handle, None
        if handle is not None:
            with suppress(OSError):
                os.close(handle)

    def __del__(self) -> None:
        self.close()

    def _opened(self) -> int:
        binary = getattr(os, "O_BINARY", 0)
        handle = os.open(self.path, os.O_RDWR | os.O_CREAT | binary | getattr(os, "O_NOFOLLOW", 0), 0o600)
        if os.fstat(handle).st_size < _PLACES * _PLACE:
            os.ftruncate(handle, 0)
            os.write(handle, b" " * (_PLACES * _PLACE))
            os.fsync(handle)
            force_folder(self.path.parent)
        return handle


def _written(newest: Newest) -> bytes:
    told = json.dumps({"journal": newest.owner, "seq": newest.seq, "hash": newest.hash})
    line = f"{_check(told)} {told}".encode()
    return line.ljust(_PLACE - 1) + b"\n"


def _parsed(place: bytes) -> Newest | None:
    with suppress(ValueError, TypeError, KeyError):
        check, told = place.decode().strip().split(" ", 1)
        if check == _check(told):
            held = object_of("line", told)
            return Newest(str(held["journal"]), int(held["seq"]), str(held["hash"]))
    return None


def _check(told: str) -> str:
    return hashlib.sha256(told.encode()).hexdigest()[:32]


def _force(handle: int) -> None:
    """Force written data to the disk; a file of constant size needs no metadata flush."""
    getattr(os, "fdatasync", os.fsync)(handle)
