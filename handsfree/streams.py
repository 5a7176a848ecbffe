"""Standard input, output and error of a command, however it was started, and the signals that end it."""

from __future__ import annotations

import contextlib
import io
import os
import select
import signal
import sys
from collections.abc import Callable, Iterator
from typing import Literal, TextIO


def ready_streams() -> None:
    """Make the three standard streams usable: none is missing, and output accepts every character.

    A stream that was closed at the start is None in Python, and the next opened file gets its number, so that
    a library's output would be written into that file. Writing to a closed stream fails, as on a full disk. A
    character that the terminal's encoding lacks becomes a question mark.
    """
    _fill_closed()
    for stream in (sys.stdin, sys.stdout, sys.stderr):
        if isinstance(stream, io.TextIOWrapper) and stream.errors in ("strict", "surrogateescape"):
            stream.reconfigure(errors="replace")


def drop_output() -> None:
    """Discard standard output, so that the program's exit doesn't try to write the rest of it."""
    os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())


def _fill_closed() -> None:
    for number in (0, 1, 2):
        try:
            os.fstat(number)
        except OSError:
            # Output is opened for reading, so that writing to it fails; errors are discarded.
            opened = os.open(os.devnull, os.O_WRONLY if number == 2 else os.O_RDONLY)
            if opened != number:
                os.dup2(opened, number)
                os.close(opened)
            os.set_inheritable(number, True)
    if sys.stdin is None:
        sys.stdin = _stream(0, "r")
    if sys.stdout is None:
        sys.stdout = _stream(1, "w")
    if sys.stderr is None:
        sys.stderr = _stream(2, "w")


def _stream(number: int, mode: Literal["r", "w"]) -> TextIO:
    return open(number, mode, encoding="utf-8", errors="replace", closefd=False)


@contextlib.contextmanager
def ended_by_signals(leave: Callable[[], object]) -> Iterator[list[int]]:
    """Stop cleanly at Ctrl-C, when the terminal is closed, or when the program is asked to end.

    The current event is finished first. A second Ctrl-C doesn't wait for it: `KeyboardInterrupt`.
    Yields the numbers of the received signals.
    """
    came: list[int] = []

    def end(number: int, _: object) -> None:
        if number == signal.SIGINT and number in came:
            raise KeyboardInterrupt
        came.append(number)
        leave()

    numbers = [getattr(signal, name) for name in ("SIGINT", "SIGTERM", "SIGHUP") if hasattr(signal, name)]
    hangup = getattr(signal, "SIGHUP", None)
    if hangup is not None and signal.getsignal(hangup) is signal.SIG_IGN:
        numbers.remove(hangup)  # started by nohup: it must outlive its terminal
    before = {number: signal.signal(number, end) for number in numbers}
    try:
        yield came
    finally:
        for number, handler in before.items():
            signal.signal(number, handler)


def terminal_gone(*files: int) -> bool:
    """Return whether the terminal was closed: there is no signal if it isn't the controlling terminal.

    files: file descriptors to look at; standard input by default.
    """
    if not hasattr(select, "poll"):
        return False  # no such terminals on this system
    terminal = select.poll()
    for file in files or (0,):
        terminal.register(file, 0)
    return any(event & (select.POLLHUP | select.POLLERR) for _, event in terminal.poll(0))
