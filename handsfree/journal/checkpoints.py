"""Copies logged events from the write-ahead log into the database, in the background.

An event is safe in the log, but a single flipped bit there makes SQLite drop every later event. So events are
copied soon after they are logged: at each quiet moment, and every few seconds where there is none.
This uses its own connection and thread; SQLite lets others write meanwhile, so no reading waits.
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
        with suppress(sqlite3.Error), closing(store.connect_beside(self._path)) as connection:
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
