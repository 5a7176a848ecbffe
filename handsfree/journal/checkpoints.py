"""Brings what was logged from the write-ahead log into the database, in the background.

An event is safe in the log, but one bit that a disk flips there drops every later event. So what was
logged is brought over soon after it: at each quiet moment, and every few seconds where there is none.
It has a connection and a thread of its own; SQLite lets others write meanwhile, so no reading waits.
"""

from __future__ import annotations

import sqlite3
import threading
import time
from contextlib import closing, suppress
from pathlib import Path

from handsfree.journal import store

QUIET_S = 0.5
AT_LATEST_S = 3.0


class Checkpoints:
    """The background work for one open journal; begins with the first event that is logged."""

    def __init__(self, path: Path) -> None:
        self._path = path
        self._thread: threading.Thread | None = None
        self._changed = threading.Condition()
        self._waiting = False
        self._over = False
        self._last = 0.0

    def logged(self) -> None:
        """Tell that something was logged."""
        with self._changed:
            self._last = time.monotonic()
            if not self._waiting:
                self._waiting = True
                self._changed.notify()
        if self._thread is None:
            self._thread = threading.Thread(target=self._work, name="checkpoints", daemon=True)
            self._thread.start()

    def close(self) -> None:
        """End it; what is still in the log is brought over when the journal is closed."""
        with self._changed:
            self._over = True
            self._changed.notify()
        if self._thread is not None:
            self._thread.join()
            self._thread = None

    def _work(self) -> None:
        with suppress(sqlite3.Error), closing(store.connect_beside(self._path)) as connection:
            while self._is_due():
                # Who reads or holds the journal just now may keep some of it back: next time, then.
                with suppress(sqlite3.OperationalError):
                    connection.execute("PRAGMA wal_checkpoint(PASSIVE)").fetchone()

    def _is_due(self) -> bool:
        """Wait for something logged, and then for a quiet moment, but not for ever; False at the end."""
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
