"""One writer at a time: a writer of a journal locks a file beside it, which names the writer.

The operating system ends the lock with its process, however that dies: a lock file left by a killed
program blocks nobody. Children don't inherit the lock, since Python closes its files when it starts another
program. The lock works between programs of one machine; keep journals on a local disk.
"""

from __future__ import annotations

import json
import os
import socket
import sys
from contextlib import suppress
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path

from handsfree.errors import JournalError
from handsfree.journal import store
from handsfree.journal.cells import object_of

SUFFIX = ".lock"
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
        path = journal.with_name(journal.name + SUFFIX)
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
