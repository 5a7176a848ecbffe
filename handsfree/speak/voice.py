"""The voice: from a reply's words to samples, by a speech engine that can be killed."""

from __future__ import annotations

import shutil
import sys
import tempfile
import threading
import time
import weakref
from collections.abc import Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Protocol, runtime_checkable

import numpy as np

from handsfree.child import Child, ChildLostError, script_command
from handsfree.errors import VoiceError
from handsfree.speak.pronounce import pronounceable
from handsfree.speak.reply import Reply
from handsfree.speak.sound import Sound, trimmed

WORDS_PER_MINUTE = 165
"""Default rate of speech: slow enough for numbers in noise, quick enough not to be waited for."""

SLOWEST, FASTEST = 100, 300
"""Words a minute between which "slower" and "faster" stay (common practice, no source)."""

ESPEAK_VOICE = "en-us"
"""Who speaks with espeak unless another is wanted: it is misheard less often than espeak's own default."""

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


@runtime_checkable
class HasPace(Protocol):
    """A voice whose rate can be changed while it is at work."""

    def pace(self, factor: float) -> None:
        """Speak so many times as fast from the next answer on, within what can be understood."""


@dataclass(frozen=True, slots=True)
class VoiceSettings:
    """How to speak.

    engine: a driver of pyttsx3; None takes the system's own, which is espeak on Linux.
    voice: one of the engine's voices; None takes `ESPEAK_VOICE` with espeak, else the engine's default.
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
        self._command = list(command or script_command(Path(__file__).with_name("worker.py")))
        self._lock = threading.Lock()
        self._worker: _Worker | None = None
        self._failures = 0
        self._rest_until = 0.0
        self._folder: Path | None = None

    @property
    def signature(self) -> str:
        """Name the engine, voice and rate."""
        chosen = self.settings
        engine = chosen.engine or ("espeak" if sys.platform.startswith("linux") else sys.platform)
        return f"{engine}/{_voice_of(engine, chosen) or 'default'}/{chosen.words_per_minute}"

    def pace(self, factor: float) -> None:
        """Speak so many times as fast from the next answer on, from SLOWEST to FASTEST."""
        wanted = round(self.settings.words_per_minute * factor)
        self.settings = replace(self.settings, words_per_minute=min(max(wanted, SLOWEST), FASTEST))

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
            try:
                worker.wait_ready(self._start_timeout_s)
                sound = worker.render(reply.aloud, self.settings, self._timeout_s)
            except ChildLostError as fault:
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


def _voice_of(engine: str | None, settings: VoiceSettings) -> str | None:
    return settings.voice or (ESPEAK_VOICE if engine == "espeak" else None)


class _RefusedError(Exception):
    """The child is well and said no to this request."""


class _Worker(Child):
    """One child process with a speech engine in it."""

    def __init__(self, command: Sequence[str]) -> None:
        super().__init__(command)
        self.answers = 0
        self._engine: str | None = None

    def wait_ready(self, timeout_s: float) -> None:
        """Wait until the engine has started.

        Raises:
            ChildLostError: it said why not, died, or took too long.
        """
        if self._engine is None:
            header, _ = self.receive(timeout_s)
            if "ready" not in header:
                raise ChildLostError(header.get("error", "no greeting"))
            self._engine = str(header["ready"])

    def render(self, text: str, settings: VoiceSettings, timeout_s: float) -> Sound:
        """Send a request and wait for its answer.

        Raises:
            ChildLostError: no answer in time, or none that makes sense.
            _RefusedError: the engine said why not.
        """
        self.answers += 1
        request = {
            "id": self.answers,
            "text": pronounceable(text, self._engine or ""),
            "voice": _voice_of(self._engine, settings),
            "words_per_minute": settings.words_per_minute,
        }
        self.send(request)
        header, payload = self.receive(timeout_s)
        if header.get("id") != self.answers:
            raise ChildLostError("it answered another question")
        if "error" in header:
            raise _RefusedError(str(header["error"]))
        if len(payload) % 2:
            raise ChildLostError("it gave half a sample")
        return Sound(np.frombuffer(payload, dtype="<i2").astype(np.int16), int(header["samplerate_hz"]))
