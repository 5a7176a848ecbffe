"""Plays answers through the sound card, into a folder of WAV files, or nowhere."""

from __future__ import annotations

import contextlib
import re
import threading
import time
from collections.abc import Callable, Sequence
from pathlib import Path
from typing import Any, NamedTuple, Protocol, runtime_checkable

import numpy as np

from handsfree.child import Channel, Child, ChildLostError, ChildSilentError, script_command
from handsfree.errors import SoundError
from handsfree.speak import Sound, joined, resampled, save_wav

QUIETEST = 0.1
"""Volume below which "quieter" doesn't go, of full scale (common practice, no source)."""


class Played(NamedTuple):
    """Result of playing an answer.

    began_at, ended_at: `time.monotonic` seconds at which its first and last sample left the
        device, as reported by the device.
    whole: False if it was stopped in mid-sentence.
    """

    began_at: float
    ended_at: float
    whole: bool


Then = Callable[[], Sound]
"""Returns the rest of a sound while its beginning is playing."""


class Player(Protocol):
    """An output for sounds."""

    def play(self, sound: Sound, label: str = "", then: Then | None = None) -> Played:
        """Play a sound to its end, or until `stop`. `label`: its name, for players that keep names.

        then: returns the sound that follows without a gap, if it is ready in time; called while `sound`
            plays.

        Raises:
            SoundError: it can't be played; the next one may.
        """

    def wake(self) -> None:
        """Warm up the device. Thread-safe."""

    def stop(self) -> None:
        """Stop the sound that is playing, if any. Thread-safe."""

    def close(self) -> None:
        """Release the device."""


@runtime_checkable
class HasVolume(Protocol):
    """A player whose volume can be changed while it is at work."""

    def turn(self, factor: float) -> None:
        """Play so many times as loud from the next answer on, never above full scale."""


class NullPlayer:
    """Plays nothing and returns at once."""

    def play(self, sound: Sound, label: str = "", then: Then | None = None) -> Played:  # noqa: ARG002
        """Pretend to have played `sound`."""
        now = time.monotonic()
        return Played(now, now, True)

    def wake(self) -> None:
        """Do nothing."""

    def stop(self) -> None:
        """Do nothing."""

    def close(self) -> None:
        """Do nothing."""


class FolderPlayer:
    """Saves each answer as a numbered WAV file with its first words in the name; `last` is the newest.

    Args:
        folder: created if missing.
        save: writes one file.

    Raises:
        SoundError: the folder can't be created.
    """

    def __init__(self, folder: Path, save: Callable[[Path, Sound], object] = save_wav) -> None:
        self.folder = folder
        self._save = save
        try:
            folder.mkdir(parents=True, exist_ok=True)
        except OSError as fault:
            reason = fault.strerror or fault
            raise SoundError(f'can\'t make the folder "{folder}": {reason}; choose another') from fault
        self._count = 0
        self.last: Path | None = None

    def play(self, sound: Sound, label: str = "", then: Then | None = None) -> Played:
        """Save `sound` and the sound that follows it, unless both are empty."""
        now = time.monotonic()
        if then is not None:
            sound = joined(sound, then())
        if len(sound.samples):
            self._count += 1
            words = "-".join(re.findall(r"[a-z0-9]+", label.lower().replace("'", ""))[:8])
            self.last = self.folder / f"{self._count:03d}{'-' if words else ''}{words}.wav"
            self._save(self.last, sound)
        return Played(now, now, True)

    def wake(self) -> None:
        """Do nothing."""

    def stop(self) -> None:
        """Do nothing: saving is always finished."""

    def close(self) -> None:
        """Do nothing."""


class SoundPlayer:
    """Plays through PortAudio, in a child process that is killed if the device blocks.

    A new process sees the present sound devices, so after a lost device has returned the next answer is
    played again.

    Args:
        device: number or part of the name of an output device; None takes the default.
        volume: 0 to 1, of full scale; no answer is ever played louder. Loud speech over loud tools harms
            hearing, so 1 is the maximum.
        grace_s: time that the device may stall beyond the sound's duration.
        start_timeout_s: time that the device may take to open.
        command: the child's command, for tests; the device is appended.
        connect: returns the device's side when it isn't a child process of this machine; it speaks the
            same messages.

    Raises:
        SoundError: a volume outside its range.
    """

    def __init__(
        self,
        device: int | str | None = None,
        *,
        volume: float = 0.8,
        grace_s: float = 1.5,
        start_timeout_s: float = 5.0,
        command: Sequence[str] | None = None,
        connect: Callable[[], Channel] | None = None,
    ) -> None:
        if not 0 <= volume <= 1:
            raise SoundError(f"wanted a volume from 0 to 1, found {volume}; full volume is 1")
        self._command = list(command or script_command(Path(__file__).with_name("loudspeaker_child.py")))
        self._command.append("" if device is None else str(device))
        self._volume = volume
        self._grace_s = grace_s
        self._start_timeout_s = start_timeout_s
        self._connect: Callable[[], Channel] = connect or (lambda: Child(self._command))
        self._child: Channel | None = None
        self._rate_hz = 0
        self._count = 0
        self._playing = False
        self._lock = threading.Lock()
        self.device: str | None = None

    @property
    def volume(self) -> float:
        """The volume, 0 to 1, of full scale."""
        return self._volume

    def turn(self, factor: float) -> None:
        """Play so many times as loud from the next answer on, from QUIETEST to full scale."""
        self._volume = min(max(self._volume * factor, min(QUIETEST, self._volume)), 1.0)

    def start(self) -> None:
        """Open the device without waiting for it."""
        with self._lock, contextlib.suppress(SoundError):
            self._running()

    def play(self, sound: Sound, label: str = "", then: Then | None = None) -> Played:  # noqa: ARG002
        """Play (n,) int16 samples and the sound that follows, and wait for the end.

        Raises:
            SoundError: there is no device, or it doesn't accept the sound.
        """
        if not len(sound.samples):
            now = time.monotonic()
            return Played(now, now, True)
        with self._lock:
            child = self._running()
            try:
                return self._play(child, sound, then)
            except ChildLostError as fault:
                self._drop()
                self._running()  # opens a present device while the bench continues
                why = "it takes no sound" if isinstance(fault, ChildSilentError) else fault
                raise SoundError(f"no sound: {why}; check the loudspeaker, and watch the display") from fault
            finally:
                self._playing = False

    def wake(self) -> None:
        """Warm up the device, when speech begins and an answer will soon follow."""
        child = self._child
        if child is not None and not self._playing:
            with contextlib.suppress(ChildLostError):
                child.send({"wake": True})

    def stop(self) -> None:
        """Stop the sound that is playing."""
        child = self._child
        if child is not None and self._playing:
            with contextlib.suppress(ChildLostError):
                child.send({"stop": True})

    def close(self) -> None:
        """Release the device."""
        self.stop()
        with self._lock:
            self._drop()

    def __enter__(self) -> SoundPlayer:
        return self

    def __exit__(self, *exc: object) -> None:
        self.close()

    def _play(self, child: Channel, sound: Sound, then: Then | None) -> Played:
        if not self._rate_hz:
            self._rate_hz = int(self._said(child, "ready", self._start_timeout_s)["ready"])
        first, lasts_s = self._fitted(sound)
        self._count += 1
        self._playing = True
        child.send({"play": self._count, "more": then is not None}, first)
        began = self._said(child, "began", self._grace_s)
        if then is not None:
            rest, rest_s = self._fitted(then())
            lasts_s += rest_s
            child.send({"more": self._count}, rest)
        # twice: on a busy machine playback begins late, and its end comes late too
        ended = self._said(child, "ended", lasts_s + 2 * self._grace_s)
        return Played(float(began["at"]), float(ended["at"]), bool(ended["whole"]))

    def _fitted(self, sound: Sound) -> tuple[bytes, float]:
        """Return the samples in the device's format, and their duration."""
        fitted = resampled(sound, self._rate_hz)
        scaled = np.round(fitted.samples.astype(np.float32) * self._volume).astype("<i2")
        return scaled.tobytes(), fitted.duration_s

    def _said(self, child: Channel, what: str, timeout_s: float) -> dict[str, Any]:
        header, _ = child.receive(timeout_s)
        if what not in header:
            raise ChildLostError(str(header.get("error", "it answered another question")))
        if what == "ready":
            self.device = str(header.get("device", ""))
        return header

    def _running(self) -> Channel:
        if self._child is None:
            self._rate_hz = 0
            try:
                self._child = self._connect()
            except OSError as fault:
                raise SoundError(f"sound can't be started: {fault}; check the installation") from fault
        return self._child

    def _drop(self) -> None:
        if self._child is not None:
            self._child.kill()
            self._child = None
