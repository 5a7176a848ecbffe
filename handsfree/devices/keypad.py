"""The keypad: 17 keys of a USB number pad, read directly on Linux, else from the terminal or a pipe.

Key names are those of the HID Usage Tables (keyboard page, usages 0x53 to 0x63) without the word
Keypad, as `handsfree.understand` has them: Num Lock / * - + Enter 1 ... 9 0 .
"""

from __future__ import annotations

import _thread
import contextlib
import os
import re
import select
import sys
import threading
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from importlib import import_module
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

# Terminals send characters. Escape wipes, since Num Lock sends nothing there; the point key of many
# national layouts sends a comma.
TERMINAL_KEYS = {
    **{key: key for key in "0123456789./*-+"},
    ",": ".",
    "\r": ENTER,
    "\n": ENTER,
    "\x7f": BACK,
    "\x08": BACK,
    "\x1b": WIPE,
}
# Sequences of a number pad in "application mode" (xterm's control sequences, VT220).
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

_CONSOLE_KEYS = {"S": "\x1b[3~"}  # second character of a special key of Windows' console; Delete
TERMINAL, PIPE = "terminal", "pipe"
"""Sources of keys: a person at a terminal, and lines that were written before."""

OTHER = "other"
"""The name of any key that means nothing at the bench: it only ends what is being said."""

# One key each: an application-mode key, an arrow or function key, or a single character.
_SEQUENCES = re.compile(r"\x1bO.|\x1b\[[0-9;]*[A-Za-z~]|.|\n", re.DOTALL)

DEBOUNCE_S = 0.06
"""A press repeated within this time is contact bounce: no thumb is so quick (common practice, no source)."""

_PRESSED = 1  # an event's value: 0 released, 1 pressed, 2 repeated while held
_RETRY_S = 1.0
_LONGEST_LINE = 1000  # characters of a piped line; an entry is far shorter
_MOST_WAITING = 1000
_CAN_WAIT = hasattr(select, "poll")  # without poll only sockets can be waited for
_LOOK_EVERY_S = 0.02  # interval of asking Windows' console for a key: it can't be waited for either
_UNICODE_MARK = "\N{ZERO WIDTH NO-BREAK SPACE}"  # some programs begin their output with it


@dataclass(frozen=True, slots=True)
class KeyPressed:
    """A key was pressed.

    source: its keyboard. Each source has its own entry.
    """

    key: str
    source: str = ""


@dataclass(frozen=True, slots=True)
class KeypadLost:
    """The number pad was lost."""

    why: str


@dataclass(frozen=True, slots=True)
class KeypadFound:
    """A number pad was found and grabbed. `again`: it had been lost."""

    name: str
    again: bool


KeypadEvent = KeyPressed | KeypadLost | KeypadFound


@dataclass
class Debounce:
    """Passes each press once, without key repeats and contact bounce."""

    gap_s: float = DEBOUNCE_S
    _last: dict[str, float] = field(default_factory=dict)

    def passes(self, key: str, at_s: float) -> bool:
        """Return whether a press of `key` at `at_s` is a new one."""
        before = self._last.get(key)
        self._last[key] = at_s
        return before is None or at_s - before >= self.gap_s


def pressed_key(event: Any, ecodes: Any) -> str | None:
    """Return the key that an evdev event presses, or None for releases, repeats and other keys."""
    if event.type != ecodes.EV_KEY or event.value != _PRESSED:
        return None
    names = ecodes.KEY.get(event.code, ())
    for name in (names,) if isinstance(names, str) else names:
        if name in EVDEV_KEYS:
            return EVDEV_KEYS[name]
    return None


def terminal_keys(text: str) -> Iterator[str]:
    """Yield the keys in a terminal's input; other characters are dropped.

    >>> list(terminal_keys("18,5+"))
    ['1', '8', '.', '5', '+']
    """
    for sequence in _SEQUENCES.findall(text):
        key = TERMINAL_KEYS.get(sequence) or _APPLICATION_KEYS.get(sequence)
        if key is not None:
            yield key


class NumberPad:
    """Grabs a USB number pad and reads it through evdev, in its own thread.

    While grabbed, its keys don't reach other windows. After it is unplugged, the thread searches for it
    until it is back.

    Args:
        sink: receives the events; called from the keypad's thread, so it must only queue them.
        evdev: the `evdev` module, or a stand-in for tests; None imports it.
        retry_s: time between searches for a missing pad.

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
        """Start reading."""
        self._thread.start()

    def stop(self) -> None:
        """Stop reading and release the pad."""
        self._stopping.set()
        if self._thread.is_alive():
            self._thread.join(timeout=5)

    def pads(self) -> list[Any]:
        """Open and return every readable number pad; the caller closes them."""
        codes = self._evdev.ecodes
        wanted = {codes.KEY_KP0, codes.KEY_KP9, codes.KEY_KPENTER}
        found = []
        for path in self._evdev.list_devices():
            try:
                device = self._evdev.InputDevice(path)
            except OSError:
                continue
            keys = set(device.capabilities().get(codes.EV_KEY, ()))
            # a full keyboard has these keys too; grabbing it would disable it for its owner
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
        """Pass on the presses of one pad until it is lost.

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
    """Yield the keys of a piped line; its end is Enter.

    The line is written as in a key file, with or without Enter. A character that isn't a key is passed on, so
    that its entry is refused: without it the entry could be another number.

    >>> list(piped_keys("1*1* 18  # no. 2")), list(piped_keys("18x Enter"))
    (['1', '*', '1', '*', '1', '8', 'Enter'], ['1', '8', 'x', 'Enter'])
    """
    entry, mark, _ = line.partition("#")
    if mark and not entry.strip():
        return
    keys = [key if key.isprintable() else "?" for key in key_names(entry)]
    yield from keys if keys[-1:] == [ENTER] else [*keys, ENTER]


class TerminalKeys:
    """Reads the same keys from standard input: single presses from a terminal, lines from a pipe.

    Earlier input is not dropped.

    Args:
        sink: receives the events; called from its own thread.
        fd: the file descriptor; standard input when not given.
        ended: called when nothing more can come: the terminal was lost, or the pipe or file ended.
        waiting: returns the number of events still to be handled; reading a pipe pauses while there are many.

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
            if sys.stdin is None:  # closed; its number may belong to another file by now
                raise OSError("no standard input")
            fd = sys.stdin.fileno()
        self._fd = fd
        self._ended = ended
        self._waiting = waiting
        self._before: list[Any] | None = None
        self._console: Any = None
        self.brought = False
        """Whether any key came."""
        self._stopping = threading.Event()
        self._thread = threading.Thread(target=self._run, name="terminal keys", daemon=True)

    @property
    def is_terminal(self) -> bool:
        """Whether input is single presses, without echo."""
        return self._before is not None or self._console is not None

    def start(self) -> None:
        """Start reading.

        Raises:
            OSError, ImportError: this terminal can't be read by single presses.
        """
        if os.isatty(self._fd) and sys.platform == "win32":
            self._console = import_module("msvcrt")
        elif os.isatty(self._fd):
            import termios
            import tty

            self._before = termios.tcgetattr(self._fd)
            try:
                # Ctrl-C still interrupts. TCSANOW: the default would drop the input typed so far.
                tty.setcbreak(self._fd, termios.TCSANOW)
            except termios.error as fault:
                raise OSError(str(fault)) from fault
        self._thread.start()

    def stop(self) -> None:
        """Stop reading and restore the terminal."""
        self._stopping.set()
        if self._thread.is_alive() and (_CAN_WAIT or self._console):
            self._thread.join(timeout=5)
        if self._before is not None:
            import termios

            with contextlib.suppress(termios.error):  # the terminal was lost
                termios.tcsetattr(self._fd, termios.TCSADRAIN, self._before)
            self._before = None

    def _run(self) -> None:
        try:
            for key in self._typed() if self.is_terminal else self._piped():
                self.brought = True
                self._sink(KeyPressed(key, TERMINAL if self.is_terminal else PIPE))
        except OSError as fault:  # it hung up, or can't be read at all
            if not self.is_terminal:
                return
            self._sink(KeypadLost(fault.strerror or str(fault)))
        if not self._stopping.is_set():
            self._ended()

    def _typed(self) -> Iterator[str]:
        for sent in self._read_console() if self._console else self._read():
            yield from list(terminal_keys(sent.decode("utf-8", errors="ignore"))) or [OTHER]

    def _piped(self) -> Iterator[str]:
        rest, mark = b"", _UNICODE_MARK
        for sent in self._read():
            *lines, rest = (rest + sent).split(b"\n")
            rest = rest[:_LONGEST_LINE]
            for line in lines:
                yield from piped_keys(line.decode("utf-8", errors="replace").rstrip("\r").removeprefix(mark))
                mark = ""
            while self._waiting() > _MOST_WAITING and not self._stopping.is_set():
                self._stopping.wait(0.05)

    def _read(self) -> Iterator[bytes]:
        """Yield the input until its end.

        Raises:
            OSError: the terminal was lost.
        """
        while not self._stopping.is_set():
            if _CAN_WAIT and not select.select([self._fd], [], [], 0.2)[0]:
                continue
            sent = os.read(self._fd, 256)
            if not sent:
                return
            yield sent

    def _read_console(self) -> Iterator[bytes]:
        """Yield key presses from Windows' console, as terminals of other systems send them."""
        while not self._stopping.is_set():
            if not self._console.kbhit():
                self._stopping.wait(_LOOK_EVERY_S)
                continue
            key = self._console.getwch()
            if key == "\x03":  # Ctrl-C, when it came as a key
                _thread.interrupt_main()
            elif key in "\x00\xe0" and self._console.kbhit():  # a special key: its code follows
                yield _CONSOLE_KEYS.get(self._console.getwch(), OTHER).encode()
            else:
                yield key.encode("utf-8", errors="ignore")
