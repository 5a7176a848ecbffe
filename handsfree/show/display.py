"""The display at the bench: one board that is drawn anew when something on it has changed."""

from __future__ import annotations

from collections.abc import Callable
from typing import ClassVar

from textual import events
from textual.app import App, ComposeResult
from textual.binding import BindingType
from textual.widgets import Static

from handsfree.hear.keypad import OTHER, TERMINAL_KEYS
from handsfree.show.paint import paint
from handsfree.show.view import BenchView
from handsfree.understand import BACK, ENTER, WIPE

_EVERY_S = 0.08  # how often a change is looked for, and at most how often one is shown
_NUDGED_EVERY_S = 0.5  # where changes are told: for the clock, and whether the bench has ended
_NAMED_KEYS = {"enter": ENTER, "backspace": BACK, "delete": BACK, "escape": WIPE}


def key_name(key: str, character: str | None) -> str | None:
    """Give the number pad's name of a key that a terminal reported, or None for any other.

    >>> key_name("enter", None), key_name("full_stop", "."), key_name("a", "a")
    ('Enter', '.', None)
    """
    return _NAMED_KEYS.get(key) or TERMINAL_KEYS.get(character or "")


class Board(App[None]):
    """Shows the newest view and passes keys on.

    Args:
        latest: gives the newest view; None while there is none yet.
        key: takes the name of a key that was pressed.
        leave: called when somebody asks to leave.
        ink: what large letters are drawn with.
        over: tells whether the bench has ended.
        nudged: `nudge` is called at each change, so that nothing need be looked for while there is none.
    """

    CSS = "Screen { overflow: hidden; } #board { width: 100%; height: 100%; }"
    ENABLE_COMMAND_PALETTE = False
    BINDINGS: ClassVar[list[BindingType]] = [("ctrl+c", "leave", "leave"), ("ctrl+q", "leave", "leave")]
    TITLE = "handsfree"

    def __init__(
        self,
        latest: Callable[[], BenchView | None],
        key: Callable[[str], object],
        leave: Callable[[], object],
        ink: str = "█",
        over: Callable[[], bool] = lambda: False,
        *,
        nudged: bool = False,
    ) -> None:
        super().__init__()
        self._every_s = _NUDGED_EVERY_S if nudged else _EVERY_S
        self._due = False
        self._over = over
        self._latest = latest
        self._pass_key = key
        self._leave = leave
        self._ink = ink
        self._shown: BenchView | None = None

    def compose(self) -> ComposeResult:
        """Make the one widget."""
        yield Static(id="board", markup=False)

    def on_mount(self) -> None:
        """Begin to look for changes."""
        self.set_interval(self._every_s, self._refresh)
        self._refresh()

    def nudge(self) -> None:
        """Say that something has changed; any thread may."""
        if self.is_running and not self._due:
            self._due = True
            self.call_later(self._soon)

    def _soon(self) -> None:
        self.set_timer(_EVERY_S, self._refresh)  # what else changes until then is shown with it

    def on_resize(self, _: events.Resize) -> None:
        """Draw for the new size."""
        self._draw()

    def on_key(self, event: events.Key) -> None:
        """Pass a key on: any may end what is being said."""
        name = key_name(event.key, event.character)
        if name is not None:
            event.stop()
            self._pass_key(name)
        elif not event.key.startswith("ctrl+"):
            self._pass_key(OTHER)

    def action_leave(self) -> None:
        """Leave the bench."""
        self._leave()

    def _refresh(self) -> None:
        self._due = False  # first: what changes from here on wants another look
        if self._over():
            self.exit()
            return
        view = self._latest()
        if view is not None and view != self._shown:
            self._shown = view
            self._draw()

    def _draw(self) -> None:
        if self._shown is not None:
            board = self.query_one("#board", Static)
            board.update(paint(self._shown, self.size.width, self.size.height, ink=self._ink))
