"""A note of a journal's newest event, kept outside the database to detect a cut end.

SQLite silently drops an unreadable end of its write-ahead log; the chain of the remaining events is whole.
So a small file beside the journal holds the number and hash of the newest event. It is written and forced
to the disk after each commit, before the event is acknowledged. It has two slots that are written in turn,
each with its own checksum: a power cut while one is written leaves the other.

The file may be behind the journal by the last commit, but never ahead of it.
"""

from __future__ import annotations

import hashlib
import json
import os
from contextlib import suppress
from dataclasses import dataclass
from pathlib import Path

from handsfree.files import force_folder
from handsfree.journal.cells import object_of

SUFFIX = ".newest"
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
        self.path = journal.with_name(journal.name + SUFFIX)
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
