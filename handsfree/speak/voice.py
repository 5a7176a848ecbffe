"""The voice: from a reply's words to samples, by a speech engine that can be killed."""

from __future__ import annotations

import contextlib
import json
import os
import queue
import shutil
import subprocess
import sys
import tempfile
import threading
import time
import weakref
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import IO, Any, Protocol

import numpy as np

from handsfree.errors import VoiceError
from handsfree.speak.reply import Reply
from handsfree.speak.sound import Sound, trimmed

WORDS_PER_MINUTE = 165
"""Default rate of speech: slow enough for numbers in noise, quick enough not to be waited for."""

_RECYCLE_AFTER = 2_000  # answers by one process: engines leak
_PATIENCE = 3  # starts in a row that may fail before starting is given a rest
_REST_S = 15.0


class Voice(Protocol):
    """Turns the words of a reply into samples."""

    @property
    def signature(self) -> str:
        """Name everything that the sound depends on besides the words: engine, voice, rate."""

    def render(self, reply: Reply) -> Sound:
        """Give the spoken words, without their tone, as (n,) int16 samples and their rate in Hz.

        Raises:
            VoiceError: this answer can't be spoken; the next one may.
        """

    def close(self) -> None:
        """Let go of processes and files."""


@dataclass(frozen=True, slots=True)
class VoiceSettings:
    """How to speak.

    engine: a driver of pyttsx3; None takes the system's own, which is espeak on Linux.
    voice: one of the engine's voices; None takes its default.
    words_per_minute: rate of speech.
    """

    engine: str | None = None
    voice: str | None = None
    words_per_minute: int = WORDS_PER_MINUTE


class EngineVoice:
    """A speech engine in a child process.

    The process starts at the first answer, or earlier by `start`, and lives on. When an answer
    takes too long it is killed and another is started: a hang costs one answer.

    Args:
        settings: how to speak.
        timeout_s: how long one answer may take to render.
        start_timeout_s: how long the engine may take to start.
        command: what to run, for tests; the folder for sound files is appended.
    """

    def __init__(
        self,
        settings: VoiceSettings | None = None,
        *,
        timeout_s: float = 2.0,
        start_timeout_s: float = 15.0,
        command: Sequence[str] | None = None,
    ) -> None:
        self.settings = settings or VoiceSettings()
        self._timeout_s = timeout_s
        self._start_timeout_s = start_timeout_s
        self._command = list(command or [sys.executable, "-m", "handsfree.speak.worker"])
        self._lock = threading.Lock()
        self._worker: _Worker | None = None
        self._failures = 0
        self._rest_until = 0.0
        self._folder: Path | None = None

    @property
    def signature(self) -> str:
        """Name the engine, voice and rate."""
        chosen = self.settings
        return f"{chosen.engine or sys.platform}/{chosen.voice or 'default'}/{chosen.words_per_minute}"

    def start(self) -> None:
        """Start the engine without waiting for it."""
        with self._lock:
            self._running()

    def render(self, reply: Reply) -> Sound:
        """Give the spoken words of `reply`: (n,) int16, at the engine's rate, silence trimmed.

        Raises:
            VoiceError: the engine failed, hung or won't start.
        """
        if not reply.aloud:
            return Sound(np.zeros(0, dtype=np.int16), 22_050)
        with self._lock:
            worker = self._running()
            request: dict[str, object] = {
                "text": reply.aloud,
                "voice": self.settings.voice,
                "words_per_minute": self.settings.words_per_minute,
            }
            try:
                worker.wait_ready(self._start_timeout_s)
                sound = worker.render(request, self._timeout_s)
            except _WorkerLostError as fault:
                self._drop()
                self._failures += 1
                if self._failures < _PATIENCE:
                    self._running()  # it starts while the bench goes on
                else:
                    self._rest_until = time.monotonic() + _REST_S
                raise VoiceError(f"the voice failed: {fault}; the answer is on the display") from fault
            except _RefusedError as fault:
                raise VoiceError(f"the voice refused: {fault}; the answer is on the display") from fault
            self._failures = 0
            if worker.answers >= _RECYCLE_AFTER:
                self._drop()
                self._running()
        trim = trimmed(sound)
        if not len(trim.samples):
            raise VoiceError("the voice gave only silence; the answer is on the display")
        return trim

    def close(self) -> None:
        """End the engine's process and remove its files."""
        with self._lock:
            self._drop()
            if self._folder is not None:
                shutil.rmtree(self._folder, ignore_errors=True)
                self._folder = None

    def __enter__(self) -> EngineVoice:
        return self

    def __exit__(self, *exc: object) -> None:
        self.close()

    @property
    def process_id(self) -> int | None:
        """The child's process id, or None while there is none."""
        return None if self._worker is None else self._worker.process.pid

    def _running(self) -> _Worker:
        if self._worker is None:
            if time.monotonic() < self._rest_until:
                raise VoiceError("the voice doesn't start; the answer is on the display")
            if self._folder is None:
                self._folder = Path(tempfile.mkdtemp(prefix="handsfree-voice-"))
                weakref.finalize(self, shutil.rmtree, self._folder, ignore_errors=True)
            engine = [self.settings.engine] if self.settings.engine else []
            try:
                self._worker = _Worker([*self._command, str(self._folder), *engine])
            except OSError as fault:
                raise VoiceError(f"the voice can't be started: {fault}; check the installation") from fault
        return self._worker

    def _drop(self) -> None:
        if self._worker is not None:
            self._worker.kill()
            self._worker = None


class _WorkerLostError(Exception):
    """The child hung, died or talked nonsense: it must be replaced."""


class _RefusedError(Exception):
    """The child is well and said no to this request."""


class _Worker:
    """One child process and the thread that reads its answers."""

    def __init__(self, command: Sequence[str]) -> None:
        self.process = subprocess.Popen(  # noqa: S603 - our own interpreter and module
            command,
            stdin=subprocess.PIPE,
            stdout=subprocess.PIPE,
            stderr=subprocess.DEVNULL,
            env=os.environ | {"PYTHONPATH": _python_path()},
        )
        self.answers = 0
        self._ready = False
        self._next_id = 0
        self._inbox: queue.Queue[tuple[dict[str, Any], bytes] | None] = queue.Queue()
        self._reader = threading.Thread(target=self._read, name="voice answers", daemon=True)
        self._reader.start()

    def wait_ready(self, timeout_s: float) -> None:
        """Wait until the engine has started.

        Raises:
            _WorkerLostError: it said why not, died, or took too long.
        """
        if self._ready:
            return
        header, _ = self._receive(time.monotonic() + timeout_s)
        if "ready" not in header:
            raise _WorkerLostError(header.get("error", "no greeting"))
        self._ready = True

    def render(self, request: dict[str, object], timeout_s: float) -> Sound:
        """Send a request and wait for its answer.

        Raises:
            _WorkerLostError: no answer in time.
            _RefusedError: the engine said why not.
        """
        self._next_id += 1
        line = json.dumps(request | {"id": self._next_id}).encode() + b"\n"
        deadline = time.monotonic() + timeout_s
        pipe = self.process.stdin
        assert pipe is not None  # noqa: S101 - opened above
        try:
            pipe.write(line)
            pipe.flush()
        except OSError as fault:
            raise _WorkerLostError("its process ended") from fault
        header, payload = self._receive(deadline)
        if header.get("id") != self._next_id:
            raise _WorkerLostError("it answered another question")
        self.answers += 1
        if "error" in header:
            raise _RefusedError(str(header["error"]))
        return Sound(np.frombuffer(payload, dtype="<i2").astype(np.int16), int(header["samplerate_hz"]))

    def kill(self) -> None:
        """End the process at once and wait until it and its reader are gone."""
        self.process.kill()
        self.process.wait()
        self._reader.join(timeout=1)
        for pipe in (self.process.stdin, self.process.stdout):
            if pipe is not None:
                with contextlib.suppress(OSError):
                    pipe.close()

    def _receive(self, deadline: float) -> tuple[dict[str, Any], bytes]:
        try:
            message = self._inbox.get(timeout=max(0.0, deadline - time.monotonic()))
        except queue.Empty:
            raise _WorkerLostError("it took too long") from None
        if message is None:
            raise _WorkerLostError("its process ended")
        return message

    def _read(self) -> None:
        pipe = self.process.stdout
        assert pipe is not None  # noqa: S101 - opened above
        # nonsense, or a pipe that broke in mid-answer, ends the conversation
        with contextlib.suppress(ValueError, OSError):
            while message := _read_message(pipe):
                self._inbox.put(message)
        self._inbox.put(None)


def _python_path() -> str:
    """Let the child find this very package, installed or not."""
    root = str(Path(__file__).parents[2])
    return os.pathsep.join([root, *filter(None, [os.environ.get("PYTHONPATH")])])


def _read_message(pipe: IO[bytes]) -> tuple[dict[str, Any], bytes] | None:
    line = pipe.readline()
    if not line:
        return None
    header = json.loads(line)
    if not isinstance(header, dict):
        raise ValueError("not an answer")  # noqa: TRY004 - caught with JSON's own ValueError
    size = int(header.get("bytes", 0))
    payload = pipe.read(size) if size else b""
    if len(payload) != size or size % 2:
        raise ValueError("torn answer")
    return header, payload
