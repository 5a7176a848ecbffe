"""The keypad: 17 keys of a USB number pad, read directly on Linux, or from the terminal.

Key names are those of the HID Usage Tables (keyboard page, usages 0x53 to 0x63) without the word
Keypad, as `handsfree.understand` has them: Num Lock / * - + Enter 1 ... 9 0 .
"""

from __future__ import annotations

import contextlib
import os
import re
import select
import sys
import threading
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from typing import Any

from handsfree.understand import ENTER, WIPE

# Linux's key codes by HID usage. Source: HID Usage Tables 1.12, keyboard page, and the kernel's
# include/uapi/linux/input-event-codes.h, by way of the names in python-evdev's ecodes.
EVDEV_KEYS = {
    "KEY_NUMLOCK": WIPE,
    "KEY_KPSLASH": "/",
    "KEY_KPASTERISK": "*",
    "KEY_KPMINUS": "-",
    "KEY_KPPLUS": "+",
    "KEY_KPENTER": ENTER,
    "KEY_KPDOT": ".",
    **{f"KEY_KP{digit}": str(digit) for digit in range(10)},
}

# Terminals send characters. Backspace and Escape wipe, since Num Lock sends nothing there; a comma
# is what the point key of many national layouts gives.
TERMINAL_KEYS = {
    **{key: key for key in "0123456789./*-+"},
    ",": ".",
    "\r": ENTER,
    "\n": ENTER,
    "\x7f": WIPE,
    "\x08": WIPE,
    "\x1b": WIPE,
}
# What a number pad in "application mode" sends instead (xterm's control sequences, VT220).
_APPLICATION_KEYS = {
    **{f"\x1bO{chr(ord('p') + digit)}": str(digit) for digit in range(10)},
    "\x1bOM": ENTER,
    "\x1bOn": ".",
    "\x1bOo": "/",
    "\x1bOj": "*",
    "\x1bOm": "-",
    "\x1bOk": "+",
}

OTHER = "other"
"""The name of any key that means nothing at the bench: it only ends what is being said."""

# One key each: an application-mode key, an arrow or function key, or a single character.
_SEQUENCES = re.compile(r"\x1bO.|\x1b\[[0-9;]*[A-Za-z~]|.|\n", re.DOTALL)

DEBOUNCE_S = 0.06
"""A key that comes again sooner than this bounced: no thumb is that quick (common practice, no source)."""

_PRESSED = 1  # an event's value: 0 released, 1 pressed, 2 repeated while held
_RETRY_S = 1.0


@dataclass(frozen=True, slots=True)
class KeyPressed:
    """A key went down, by its name."""

    key: str


@dataclass(frozen=True, slots=True)
class KeypadLost:
    """The number pad has gone."""

    why: str


@dataclass(frozen=True, slots=True)
class KeypadFound:
    """A number pad is there, and its keys go nowhere else. `again`: it had been lost."""

    name: str
    again: bool


KeypadEvent = KeyPressed | KeypadLost | KeypadFound


@dataclass
class Debounce:
    """Lets each press through once: not while the key is held, nor when its contact bounces."""

    gap_s: float = DEBOUNCE_S
    _last: dict[str, float] = field(default_factory=dict)

    def passes(self, key: str, at_s: float) -> bool:
        """Tell whether a press of `key` at `at_s` is a new one."""
        before = self._last.get(key)
        self._last[key] = at_s
        return before is None or at_s - before >= self.gap_s


def pressed_key(event: Any, ecodes: Any) -> str | None:
    """Give the key that an evdev event presses, or None for releases, repeats and other keys."""
    if event.type != ecodes.EV_KEY or event.value != _PRESSED:
        return None
    names = ecodes.KEY.get(event.code, ())
    for name in (names,) if isinstance(names, str) else names:
        if name in EVDEV_KEYS:
            return EVDEV_KEYS[name]
    return None


def terminal_keys(text: str) -> Iterator[str]:
    """Give the keys in what a terminal sent; anything else is dropped.

    >>> list(terminal_keys("18,5+"))
    ['1', '8', '.', '5', '+']
    """
    for sequence in _SEQUENCES.findall(text):
        key = TERMINAL_KEYS.get(sequence) or _APPLICATION_KEYS.get(sequence)
        if key is not None:
            yield key


class NumberPad:
    """Reads a USB number pad through evdev, in a thread of its own, and grabs it.

    Grabbed, its keys don't land in other windows. When it is unplugged it is looked for until it
    is back.

    Args:
        sink: takes the events; called from the keypad's thread, so it must only queue them.
        evdev: the `evdev` module, or a stand-in for tests; None imports it.
        retry_s: how often to look for a pad that isn't there.

    Raises:
        ImportError: evdev isn't installed.
    """

    def __init__(
        self, sink: Callable[[KeypadEvent], object], evdev: Any = None, retry_s: float = _RETRY_S
    ) -> None:
        if evdev is None:
            import evdev
        self._evdev = evdev
        self._sink = sink
        self._retry_s = retry_s
        self._stopping = threading.Event()
        self._thread = threading.Thread(target=self._run, name="keypad", daemon=True)

    def start(self) -> None:
        """Begin to read."""
        self._thread.start()

    def stop(self) -> None:
        """Stop reading and let go of the pad."""
        self._stopping.set()
        if self._thread.is_alive():
            self._thread.join(timeout=5)

    def pads(self) -> list[Any]:
        """Open every number pad that may be read; the caller closes them."""
        codes = self._evdev.ecodes
        wanted = {codes.KEY_KP0, codes.KEY_KP9, codes.KEY_KPENTER}
        found = []
        for path in self._evdev.list_devices():
            try:
                device = self._evdev.InputDevice(path)
            except OSError:
                continue
            keys = set(device.capabilities().get(codes.EV_KEY, ()))
            # a whole keyboard has such keys too; grabbing it would take it from its owner
            if wanted <= keys and codes.KEY_A not in keys:
                found.append(device)
            else:
                device.close()
        return found

    def _run(self) -> None:
        was_lost = False
        while not self._stopping.is_set():
            pads = self.pads()
            for spare in pads[1:]:
                spare.close()
            if pads:
                try:
                    self._read(pads[0], was_lost)
                except OSError as fault:
                    self._sink(KeypadLost(fault.strerror or str(fault)))
                    was_lost = True
                finally:
                    with contextlib.suppress(OSError):
                        pads[0].ungrab()
                    with contextlib.suppress(OSError):
                        pads[0].close()
            self._stopping.wait(self._retry_s)

    def _read(self, pad: Any, again: bool) -> None:
        """Pass on the presses of one pad until it goes.

        Raises:
            OSError: it was unplugged, or is grabbed by another program.
        """
        pad.grab()
        self._sink(KeypadFound(pad.name, again))
        debounce = Debounce()
        while not self._stopping.is_set():
            ready, _, _ = select.select([pad.fd], [], [], 0.2)
            if not ready:
                continue
            for event in pad.read():
                key = pressed_key(event, self._evdev.ecodes)
                if key is not None and debounce.passes(key, event.timestamp()):
                    self._sink(KeyPressed(key))


class TerminalKeys:
    """Reads the same keys from a terminal, one press at a time, without echo.

    Args:
        sink: takes the events; called from a thread of its own.
        fd: the terminal's file descriptor; standard input when not given.

    Raises:
        OSError: it isn't a terminal.
    """

    def __init__(self, sink: Callable[[KeypadEvent], object], fd: int | None = None) -> None:
        self._sink = sink
        self._fd = sys.stdin.fileno() if fd is None else fd
        if not os.isatty(self._fd):
            raise OSError("not a terminal")
        self._stopping = threading.Event()
        self._thread = threading.Thread(target=self._run, name="terminal keys", daemon=True)

    def start(self) -> None:
        """Begin to read."""
        self._thread.start()

    def stop(self) -> None:
        """Stop reading and give the terminal back as it was."""
        self._stopping.set()
        if self._thread.is_alive():
            self._thread.join(timeout=5)

    def _run(self) -> None:
        import termios
        import tty

        before = termios.tcgetattr(self._fd)
        try:
            tty.setcbreak(self._fd)  # Ctrl-C still interrupts
            while not self._stopping.is_set():
                ready, _, _ = select.select([self._fd], [], [], 0.2)
                if not ready:
                    continue
                text = os.read(self._fd, 256).decode("utf-8", errors="ignore")
                if not text:
                    return
                for key in list(terminal_keys(text)) or [OTHER]:
                    self._sink(KeyPressed(key))
        except OSError as fault:
            self._sink(KeypadLost(fault.strerror or str(fault)))
        finally:
            with contextlib.suppress(termios.error):
                termios.tcsetattr(self._fd, termios.TCSADRAIN, before)
