"""The view handed to displays in other processes, and their keys handed back.

Messages are JSON over a local socket of multiprocessing.connection, which asks for a shared secret
before anything is read. Nothing is ever unpickled.
"""

from __future__ import annotations

import itertools
import json
import os
import threading
import time
from collections.abc import Callable
from dataclasses import asdict
from multiprocessing.connection import Client, Connection, Listener
from typing import Any

from handsfree.live.state import Ears
from handsfree.show.view import BenchView, Cell, Grid, Mark
from handsfree.speak import Tone
from handsfree.understand import BACK, KEYS

ADDRESS, SECRET = "HANDSFREE_VIEW", "HANDSFREE_VIEW_SECRET"
_EVERY_S = 0.08


def view_form(view: BenchView) -> dict[str, Any]:
    """Give a view as plain data for JSON."""
    return asdict(view)


def view_of(form: dict[str, Any]) -> BenchView:
    """Make a view from its form.

    Raises:
        TypeError, ValueError, KeyError: it is none.
    """
    grid = form["grid"]
    cells = tuple(tuple(None if cell is None else _cell(cell) for cell in row) for row in grid["cells"])
    changed = {
        "mark": Mark(form["mark"]),
        "ears": Ears(form["ears"]),
        "tone": Tone(form["tone"]),
        "trouble": tuple(form["trouble"]),
        "question": tuple(form["question"]),
        "notice": tuple(form["notice"]),
        "grid": Grid(tuple(grid["across"]), tuple(grid["down"]), cells),
    }
    return BenchView(**(form | changed))


def _cell(form: dict[str, Any]) -> Cell:
    return Cell(Mark(form["mark"]), str(form["value"]), bool(form["in_hand"]))


class ViewServer:
    """Hands the newest view to every display that asks, and takes their keys.

    Args:
        latest: gives the newest view.
        key: takes the name of a key that was pressed at a display, and a name for that display.
    """

    def __init__(self, latest: Callable[[], BenchView | None], key: Callable[[str, str], object]) -> None:
        self._latest = latest
        self._key = key
        self._secret = os.urandom(32)
        self._listener = Listener(authkey=self._secret)
        self._closing = False
        threading.Thread(target=self._serve, name="displays", daemon=True).start()

    @property
    def environment(self) -> dict[str, str]:
        """What a display needs in its environment."""
        return {ADDRESS: json.dumps(self._listener.address), SECRET: self._secret.hex()}

    def close(self) -> None:
        """Let go of the socket; displays see the end."""
        self._closing = True
        self._listener.close()

    def _serve(self) -> None:
        for number in itertools.count(1):
            if self._closing:
                return
            try:
                connection = self._listener.accept()
            except Exception:  # a wrong secret, a broken connection, or the end
                time.sleep(0.05)
                continue
            threading.Thread(target=self._attend, args=(connection, f"display {number}"), daemon=True).start()

    def _attend(self, connection: Connection, name: str) -> None:
        shown: BenchView | None = None
        try:
            while not self._closing:
                view = self._latest()
                if view is not None and view != shown:
                    shown = view
                    connection.send_bytes(json.dumps(view_form(view)).encode())
                if connection.poll(_EVERY_S):
                    key = json.loads(connection.recv_bytes(256))
                    if isinstance(key, str) and key in KEYS | {BACK}:
                        self._key(key, name)
        except (OSError, EOFError, ValueError):
            pass
        finally:
            connection.close()


class ViewClient:
    """The display's side: keeps the newest view, and sends keys.

    Raises:
        OSError: nobody serves there.
    """

    def __init__(self, environment: dict[str, str], gone: Callable[[], object]) -> None:
        address = json.loads(environment[ADDRESS])
        self._connection = Client(
            tuple(address) if isinstance(address, list) else address,
            authkey=bytes.fromhex(environment[SECRET]),
        )
        self._gone = gone
        self._view: BenchView | None = None
        threading.Thread(target=self._follow, name="view", daemon=True).start()

    def latest(self) -> BenchView | None:
        """Give the newest view."""
        return self._view

    def press(self, key: str) -> None:
        """Send a key."""
        try:
            self._connection.send_bytes(json.dumps(key).encode())
        except OSError:
            self._gone()

    def _follow(self) -> None:
        try:
            while True:
                self._view = view_of(json.loads(self._connection.recv_bytes()))
        except (OSError, EOFError, ValueError, KeyError, TypeError):
            self._gone()
