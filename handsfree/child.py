"""Child processes that own a device or an engine, so that a hanging one can be killed.

Sound servers stall, drivers wait for ever, speech engines never return. A thread stuck in one can't be
ended, but a process can. A message in either direction is one JSON object on a line; with ``"bytes": n`` in
it, n bytes follow the line.
"""

from __future__ import annotations

import contextlib
import ctypes
import json
import os
import queue
import signal
import subprocess
import sys
import threading
import time
from collections.abc import Callable, Sequence
from pathlib import Path
from typing import IO, Any, Protocol

Message = tuple[dict[str, Any], bytes]

_PR_SET_PDEATHSIG = 1  # Linux, include/uapi/linux/prctl.h


class ChildLostError(Exception):
    """The child hung, died or sent an invalid message: it must be replaced."""


class ChildSilentError(ChildLostError):
    """No message came from the child in time; it may still be alive."""


def script_command(script: Path, *arguments: str) -> list[str]:
    """Return the command that runs one of our own scripts without importing its package.

    ``-P`` keeps the script's folder off the search path: a room's module must not shadow one of the standard
    library.
    """
    return [sys.executable, "-P", str(script), *arguments]


def die_with_parent() -> None:
    """Have this process killed when its parent ends, however that ends.

    On Linux the kernel does this, even while this process hangs. It is tied to the parent's thread that
    started this process, so that thread must live as long. On other systems see `watch_pipe`.
    """
    if sys.platform != "linux":
        return
    parent = os.getppid()
    with contextlib.suppress(OSError, AttributeError):
        ctypes.CDLL(None).prctl(_PR_SET_PDEATHSIG, signal.SIGKILL, 0, 0, 0)
    if os.getppid() != parent:  # it ended meanwhile, so no signal will come
        os._exit(0)


def watch_pipe(pipe: IO[bytes]) -> None:
    """End this process when a pipe ends; the parent holds its other end and never writes to it."""

    def wait() -> None:
        with contextlib.suppress(ValueError, OSError):
            while pipe.read(1):
                pass
        os._exit(0)

    threading.Thread(target=wait, name="parent", daemon=True).start()


class Channel(Protocol):
    """The side of a device or engine that a bench talks to: a child process, or a page far away."""

    def send(self, header: dict[str, Any], payload: bytes = b"") -> None:
        """Send a message, or raise `ChildLostError`."""

    def receive(self, timeout_s: float | None = None) -> Message:
        """Wait for the next message, or raise `ChildLostError`."""

    def kill(self) -> object:
        """Give it up."""


class Child:
    """The parent's side of one child process, with a thread that reads its messages.

    Args:
        command: the child's command.

    Raises:
        OSError: it can't be started.
    """

    def __init__(self, command: Sequence[str]) -> None:
        self.process = subprocess.Popen(  # noqa: S603 - our own interpreter and script
            command,
            stdin=subprocess.PIPE,
            stdout=subprocess.PIPE,
            stderr=subprocess.DEVNULL,  # sound libraries chatter there
            env=os.environ | {"PYTHONPATH": _python_path()},
        )
        self._inbox: queue.SimpleQueue[Message | None] = queue.SimpleQueue()
        self._writing = threading.Lock()
        self._reader = threading.Thread(target=self._read, name="child's answers", daemon=True)
        self._reader.start()

    def send(self, header: dict[str, Any], payload: bytes = b"") -> None:
        """Send a message.

        Raises:
            ChildLostError: its process has ended.
        """
        pipe = self.process.stdin
        assert pipe is not None  # noqa: S101 - opened above
        try:
            with self._writing:
                write_message(pipe, header, payload)
        except (OSError, ValueError) as fault:  # a closed pipe is a ValueError
            raise ChildLostError("its process ended") from fault

    def receive(self, timeout_s: float | None = None) -> Message:
        """Wait for the next message and return it.

        Raises:
            ChildSilentError: no message came in time.
            ChildLostError: its process has ended, or sent an invalid message.
        """
        try:
            message = self._inbox.get(timeout=None if timeout_s is None else max(0.0, timeout_s))
        except queue.Empty:
            raise ChildSilentError("it took too long") from None
        if message is None:
            self._inbox.put(None)  # so that every later call raises the same
            raise ChildLostError("its process ended")
        return message

    @property
    def waiting(self) -> int:
        """Number of messages still to be received."""
        return self._inbox.qsize()

    def kill(self) -> None:
        """Kill the process and wait until it and its reader have ended."""
        self.process.kill()
        self.process.wait()
        self._reader.join(timeout=1)
        for pipe in (self.process.stdin, self.process.stdout):
            if pipe is not None:
                with contextlib.suppress(OSError):
                    pipe.close()

    def _read(self) -> None:
        pipe = self.process.stdout
        assert pipe is not None  # noqa: S101 - opened above
        with contextlib.suppress(ValueError, OSError):  # an invalid message or a broken pipe ends reading
            while message := read_message(pipe):
                self._inbox.put(message)
        self._inbox.put(None)


class Parent:
    """The child's side: its standard input and output, kept apart from the output of libraries.

    Printed text goes to standard error. When the parent has ended, the process ends, even while the main
    thread hangs.

    Args:
        at_end: called before that, from its own thread, unless the process is killed.
    """

    def __init__(self, at_end: Callable[[], object] = lambda: None) -> None:
        self._at_end = at_end
        die_with_parent()
        signal.signal(signal.SIGINT, signal.SIG_IGN)  # Ctrl-C is the parent's to handle
        self._out = os.fdopen(os.dup(sys.stdout.fileno()), "wb")
        os.dup2(sys.stderr.fileno(), sys.stdout.fileno())
        self._writing = threading.Lock()
        self._inbox: queue.SimpleQueue[Message] = queue.SimpleQueue()
        threading.Thread(target=self._read, daemon=True).start()

    def send(self, header: dict[str, Any], payload: bytes = b"") -> None:
        """Send a message; if the parent no longer reads, the process ends."""
        try:
            with self._writing:
                write_message(self._out, header, payload)
        except OSError:
            os._exit(0)

    def receive(self, timeout_s: float | None = None) -> Message | None:
        """Return the next message, or None if none came in time."""
        try:
            return self._inbox.get(timeout=timeout_s)
        except queue.Empty:
            return None

    def _read(self) -> None:
        with contextlib.suppress(ValueError, OSError):
            while message := read_message(sys.stdin.buffer):
                self._inbox.put(message)
        with contextlib.suppress(Exception):
            self._at_end()
        os._exit(0)


def write_message(pipe: IO[bytes], header: dict[str, Any], payload: bytes = b"") -> None:
    """Write one message.

    Raises:
        OSError: the pipe is broken.
    """
    if payload:
        header = header | {"bytes": len(payload)}
    pipe.write(json.dumps(header).encode() + b"\n" + payload)
    pipe.flush()


def read_message(pipe: IO[bytes]) -> Message | None:
    """Return the next message; None at the end of the pipe.

    Raises:
        ValueError: the message is invalid, or the pipe ended within it.
    """
    line = pipe.readline()
    if not line:
        return None
    header = json.loads(line)
    if not isinstance(header, dict):
        raise ValueError("not a message")  # noqa: TRY004 - the same class as JSON's own error
    size = int(header.get("bytes", 0))
    payload = pipe.read(size) if size else b""
    if len(payload) != size:
        raise ValueError("torn message")
    return header, payload


def deadline(timeout_s: float) -> float:
    """Return the `time.monotonic` value `timeout_s` from now."""
    return time.monotonic() + timeout_s


def _python_path() -> str:
    """Return the search path with which the child finds this package, installed or not."""
    root = str(Path(__file__).parents[1])
    return os.pathsep.join([root, *filter(None, [os.environ.get("PYTHONPATH")])])
