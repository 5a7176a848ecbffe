"""The display at the bench: one board, redrawn when something on it has changed."""

from __future__ import annotations

from collections.abc import Callable
from typing import ClassVar

from textual import events
from textual.app import App, ComposeResult
from textual.binding import BindingType
from textual.widgets import Static

from handsfree.devices import OTHER, TERMINAL_KEYS
from handsfree.show.paint import paint
from handsfree.show.view import BenchView
from handsfree.understand import BACK, ENTER, WIPE

_EVERY_S = 0.08  # polling interval for changes, and shortest interval between two redraws
_NUDGED_EVERY_S = 0.5  # polling interval with `nudge`: for the clock, and the end of the bench
_NAMED_KEYS = {"enter": ENTER, "backspace": BACK, "delete": BACK, "escape": WIPE}


def key_name(key: str, character: str | None) -> str | None:
    """Return the number pad's name of a key reported by a terminal, or None for other keys.

    >>> key_name("enter", None), key_name("full_stop", "."), key_name("a", "a")
    ('Enter', '.', None)
    """
    return _NAMED_KEYS.get(key) or TERMINAL_KEYS.get(character or "")


class Board(App[None]):
    """Shows the newest view and forwards keys.

    Args:
        latest: returns the newest view; None while there is none yet.
        key: receives the name of a pressed key.
        leave: called when a person asks to leave.
        ink: the characters for large letters.
        over: returns whether the bench has ended.
        nudged: `nudge` is called at each change, so that fast polling isn't needed.
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
        """Yield the only widget."""
        yield Static(id="board", markup=False)

    def on_mount(self) -> None:
        """Start polling for changes."""
        self.set_interval(self._every_s, self._refresh)
        self._refresh()

    def nudge(self) -> None:
        """Request a redraw. Thread-safe."""
        if self.is_running and not self._due:
            self._due = True
            self.call_later(self._soon)

    def _soon(self) -> None:
        self.set_timer(_EVERY_S, self._refresh)  # what else changes until then is shown with it

    def on_resize(self, _: events.Resize) -> None:
        """Redraw for the new size."""
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
        self._due = False  # first: later changes need another redraw
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
