"""Prepares standard input, output and error for a command, however it was started."""

from __future__ import annotations

import io
import os
import sys
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
