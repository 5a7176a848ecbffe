"""Child processes that own a device or an engine, so that one that hangs can be killed.

Sound servers stall, drivers wait for ever, speech engines never come back; no thread that is
caught in one can be ended, but a process can. A message, either way, is one JSON object on a line;
with ``"bytes": n`` in it, n bytes follow the line.
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
from typing import IO, Any

Message = tuple[dict[str, Any], bytes]

_PR_SET_PDEATHSIG = 1  # Linux, include/uapi/linux/prctl.h


class ChildLostError(Exception):
    """The child hung, died or talked nonsense: it must be replaced."""


class ChildSilentError(ChildLostError):
    """Nothing came from the child in the time allowed; it may still be alive."""


def script_command(script: Path, *arguments: str) -> list[str]:
    """Give the command that runs one of our own scripts without importing the package around it.

    ``-P`` keeps the script's folder off the search path: a room's module must not stand in for one
    of the standard library's.
    """
    return [sys.executable, "-P", str(script), *arguments]


def die_with_parent() -> None:
    """Let this process be killed when its parent ends, however that ends.

    On Linux the kernel does it, even while this process hangs: it is tied to the thread that started it, so
    that thread must live as long as the process is wanted. Elsewhere the end of a pipe must tell, see
    `watch_pipe`.
    """
    if sys.platform != "linux":
        return
    parent = os.getppid()
    with contextlib.suppress(OSError, AttributeError):
        ctypes.CDLL(None).prctl(_PR_SET_PDEATHSIG, signal.SIGKILL, 0, 0, 0)
    if os.getppid() != parent:  # it ended meanwhile, and nobody will say so any more
        os._exit(0)


def watch_pipe(pipe: IO[bytes]) -> None:
    """End this process when a pipe ends whose other end its parent holds and never writes to."""

    def wait() -> None:
        with contextlib.suppress(ValueError, OSError):
            while pipe.read(1):
                pass
        os._exit(0)

    threading.Thread(target=wait, name="parent", daemon=True).start()


class Child:
    """The parent's side of one child process, with a thread that reads what it says.

    Args:
        command: what to run.

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
        """Give the next message, waiting for it.

        Raises:
            ChildSilentError: nothing came in time.
            ChildLostError: its process has ended, or talks nonsense.
        """
        try:
            message = self._inbox.get(timeout=None if timeout_s is None else max(0.0, timeout_s))
        except queue.Empty:
            raise ChildSilentError("it took too long") from None
        if message is None:
            self._inbox.put(None)  # so that every later call says the same
            raise ChildLostError("its process ended")
        return message

    @property
    def waiting(self) -> int:
        """How many messages have come and were not received yet."""
        return self._inbox.qsize()

    def kill(self) -> None:
        """End the process at once and wait until it and its reader are gone."""
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
        with contextlib.suppress(ValueError, OSError):  # nonsense or a broken pipe ends the conversation
            while message := read_message(pipe):
                self._inbox.put(message)
        self._inbox.put(None)


class Parent:
    """The child's side: its standard input and output, kept apart from what libraries print.

    Anything that is printed goes to standard error. When the parent is gone, the process ends,
    even while the main thread hangs.

    Args:
        at_end: called before that, from a thread of its own, unless the process is killed.
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
        """Send a message; if nobody reads any more, the process ends."""
        try:
            with self._writing:
                write_message(self._out, header, payload)
        except OSError:
            os._exit(0)

    def receive(self, timeout_s: float | None = None) -> Message | None:
        """Give the next message, or None when none came in time."""
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
    """Read one message; None at the end of the pipe.

    Raises:
        ValueError: what came is no message, or the pipe ended in mid-message.
    """
    line = pipe.readline()
    if not line:
        return None
    header = json.loads(line)
    if not isinstance(header, dict):
        raise ValueError("not a message")  # noqa: TRY004 - as JSON's own error for nonsense
    size = int(header.get("bytes", 0))
    payload = pipe.read(size) if size else b""
    if len(payload) != size:
        raise ValueError("torn message")
    return header, payload


def deadline(timeout_s: float) -> float:
    """Give the `time.monotonic` value that lies `timeout_s` ahead."""
    return time.monotonic() + timeout_s


def _python_path() -> str:
    """Let the child find this very package, installed or not."""
    root = str(Path(__file__).parents[1])
    return os.pathsep.join([root, *filter(None, [os.environ.get("PYTHONPATH")])])
