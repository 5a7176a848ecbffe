"""The keypad: 17 keys of a USB number pad, read directly on Linux, or from the terminal or a pipe.

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

from handsfree.understand import BACK, ENTER, WIPE, key_names

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

# Terminals send characters. Escape wipes, since Num Lock sends nothing there; a comma is what the point
# key of many national layouts gives.
TERMINAL_KEYS = {
    **{key: key for key in "0123456789./*-+"},
    ",": ".",
    "\r": ENTER,
    "\n": ENTER,
    "\x7f": BACK,
    "\x08": BACK,
    "\x1b": WIPE,
}
# What a number pad in "application mode" sends instead (xterm's control sequences, VT220).
_APPLICATION_KEYS = {
    **{f"\x1bO{chr(ord('p') + digit)}": str(digit) for digit in range(10)},
    "\x1bOM": ENTER,
    "\x1b[3~": BACK,  # the key Delete
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
_LONGEST_LINE = 1000  # of a pipe; an entry is far shorter
_MOST_WAITING = 1000
_CAN_WAIT = hasattr(select, "poll")  # elsewhere only sockets can be waited for


@dataclass(frozen=True, slots=True)
class KeyPressed:
    """A key went down, by its name.

    source: which keyboard it is on. Each source has an entry of its own.
    """

    key: str
    source: str = ""


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
                    self._sink(KeyPressed(key, "number pad"))


def piped_keys(line: str) -> Iterator[str]:
    """Give the keys of a line that came through a pipe; its end is Enter.

    Written as in a key file, with Enter or without. A sign that is no key is passed on all the same, so that
    its entry is refused: without it the entry could be another number.

    >>> list(piped_keys("1*1* 18  # no. 2")), list(piped_keys("18x Enter"))
    (['1', '*', '1', '*', '1', '8', 'Enter'], ['1', '8', 'x', 'Enter'])
    """
    entry, mark, _ = line.partition("#")
    if mark and not entry.strip():
        return
    keys = [key if key.isprintable() else "?" for key in key_names(entry)]
    yield from keys if keys[-1:] == [ENTER] else [*keys, ENTER]


class TerminalKeys:
    """Reads the same keys from standard input: one press at a time from a terminal, by lines from a pipe.

    Nothing that was typed before is dropped.

    Args:
        sink: takes the events; called from a thread of its own.
        fd: the file descriptor; standard input when not given.
        ended: called when nothing more can come: True if a terminal went, or a pipe ended that had brought
            something; not called for an empty one.
        waiting: tells how many events wait to be handled; of a pipe no more is read while there are many.

    Raises:
        OSError: there is no standard input.
    """

    def __init__(
        self,
        sink: Callable[[KeypadEvent], object],
        fd: int | None = None,
        *,
        ended: Callable[[], object] = lambda: None,
        waiting: Callable[[], int] = lambda: 0,
    ) -> None:
        self._sink = sink
        if fd is None:
            if sys.stdin is None:  # closed; its number may be that of another file by now
                raise OSError("no standard input")
            fd = sys.stdin.fileno()
        self._fd = fd
        self._ended = ended
        self._waiting = waiting
        self._before: list[Any] | None = None
        self._stopping = threading.Event()
        self._thread = threading.Thread(target=self._run, name="terminal keys", daemon=True)

    @property
    def is_terminal(self) -> bool:
        """Whether keys come one at a time, without echo."""
        return self._before is not None

    def start(self) -> None:
        """Begin to read.

        Raises:
            OSError, ImportError: this terminal can't be read key by key.
        """
        if os.isatty(self._fd):
            import termios
            import tty

            self._before = termios.tcgetattr(self._fd)
            try:
                # Ctrl-C still interrupts. At once: the default would drop what has been typed so far.
                tty.setcbreak(self._fd, termios.TCSANOW)
            except termios.error as fault:
                raise OSError(str(fault)) from fault
        self._thread.start()

    def stop(self) -> None:
        """Stop reading and give the terminal back as it was."""
        self._stopping.set()
        if self._thread.is_alive() and _CAN_WAIT:
            self._thread.join(timeout=5)
        if self._before is not None:
            import termios

            with contextlib.suppress(termios.error):  # the terminal has gone
                termios.tcsetattr(self._fd, termios.TCSADRAIN, self._before)
            self._before = None

    def _run(self) -> None:
        typed = False
        try:
            for key in self._typed() if self.is_terminal else self._piped():
                typed = True
                self._sink(KeyPressed(key, "terminal"))
        except OSError as fault:  # it hung up
            if self.is_terminal:
                self._sink(KeypadLost(fault.strerror or str(fault)))
        if not self._stopping.is_set() and (typed or self.is_terminal):
            self._ended()

    def _typed(self) -> Iterator[str]:
        for sent in self._read():
            yield from list(terminal_keys(sent.decode("utf-8", errors="ignore"))) or [OTHER]

    def _piped(self) -> Iterator[str]:
        rest = b""
        for sent in self._read():
            *lines, rest = (rest + sent).split(b"\n")
            rest = rest[:_LONGEST_LINE]
            for line in lines:
                yield from piped_keys(line.decode("utf-8", errors="replace").rstrip("\r"))
            while self._waiting() > _MOST_WAITING and not self._stopping.is_set():
                self._stopping.wait(0.05)

    def _read(self) -> Iterator[bytes]:
        """Give what comes until its end.

        Raises:
            OSError: the terminal has gone.
        """
        while not self._stopping.is_set():
            if _CAN_WAIT and not select.select([self._fd], [], [], 0.2)[0]:
                continue
            sent = os.read(self._fd, 256)
            if not sent:
                return
            yield sent
