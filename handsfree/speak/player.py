"""Playing answers: through the sound card, into a folder of WAV files, or nowhere."""

from __future__ import annotations

import re
import threading
import time
from pathlib import Path
from types import ModuleType
from typing import Any, NamedTuple, Protocol

import numpy as np

from handsfree.errors import SoundError
from handsfree.speak.sound import Samples, Sound, resampled, save_wav


class Played(NamedTuple):
    """What became of an answer.

    began_at, ended_at: `time.monotonic` seconds at which its first and last sample left the
        device, as far as the device tells.
    whole: False where it was stopped in mid-sentence.
    """

    began_at: float
    ended_at: float
    whole: bool


class Player(Protocol):
    """Something that makes a sound heard."""

    def play(self, sound: Sound, label: str = "") -> Played:
        """Play a sound to its end, or until `stop`. `label` names it where names are kept.

        Raises:
            SoundError: it can't be played; the next one may.
        """

    def stop(self) -> None:
        """Cut off what is playing, from any thread; harmless when nothing plays."""

    def close(self) -> None:
        """Let go of the device."""


class NullPlayer:
    """Plays nothing, at once."""

    def play(self, sound: Sound, label: str = "") -> Played:  # noqa: ARG002 - the protocol's
        """Pretend to have played `sound`."""
        now = time.monotonic()
        return Played(now, now, True)

    def stop(self) -> None:
        """Do nothing."""

    def close(self) -> None:
        """Do nothing."""


class FolderPlayer:
    """Saves each answer as a numbered WAV file, with its first words in the name; `last` is the newest.

    Args:
        folder: made if it isn't there.

    Raises:
        SoundError: the folder can't be made.
    """

    def __init__(self, folder: Path) -> None:
        self.folder = folder
        try:
            folder.mkdir(parents=True, exist_ok=True)
        except OSError as fault:
            reason = fault.strerror or fault
            raise SoundError(f'can\'t make the folder "{folder}": {reason}; choose another') from fault
        self._count = 0
        self.last: Path | None = None

    def play(self, sound: Sound, label: str = "") -> Played:
        """Save `sound`, unless it is empty."""
        now = time.monotonic()
        if len(sound.samples):
            self._count += 1
            words = "-".join(re.findall(r"[a-z0-9]+", label.lower().replace("'", ""))[:8])
            self.last = self.folder / f"{self._count:03d}{'-' if words else ''}{words}.wav"
            save_wav(self.last, sound)
        return Played(now, now, True)

    def stop(self) -> None:
        """Do nothing: saving is not stopped half-way."""

    def close(self) -> None:
        """Do nothing."""


class SoundPlayer:
    """Plays through PortAudio, with one output stream kept open so that answers begin at once.

    Args:
        device: number or part of the name of an output device; None takes the default.
        volume: 0 to 1, of full scale; no answer is ever played louder. Loud speech over loud
            tools harms hearing, so 1 is as loud as it gets.
        grace_s: how long the device may stall beyond the sound's own length.
        backend: the `sounddevice` module, or a stand-in for tests.
    """

    def __init__(
        self,
        device: int | str | None = None,
        *,
        volume: float = 0.8,
        grace_s: float = 1.5,
        backend: ModuleType | Any | None = None,
    ) -> None:
        if not 0 <= volume <= 1:
            raise SoundError(f"wanted a volume from 0 to 1, found {volume}; full volume is 1")
        self._device = device
        self._volume = volume
        self._grace_s = grace_s
        self._backend = backend
        self._stream: Any = None
        self._rate_hz = 0
        self._playing: _Feed | None = None
        self._lock = threading.Lock()

    def play(self, sound: Sound, label: str = "") -> Played:  # noqa: ARG002 - the protocol's
        """Play (n,) int16 samples and wait for their end.

        Raises:
            SoundError: no device, or one that takes no sound.
        """
        if not len(sound.samples):
            now = time.monotonic()
            return Played(now, now, True)
        with self._lock:
            self._open()
            fitted = resampled(sound, self._rate_hz)
            scaled = np.round(fitted.samples.astype(np.float32) * self._volume).astype(np.int16)
            feed = _Feed(scaled)
            self._playing = feed
            finished = feed.done.wait(fitted.duration_s + self._grace_s)
            self._playing = None
            if not finished or feed.fault:
                self._abandon()
                why = feed.fault or "it stopped taking sound"
                raise SoundError(f"the loudspeaker is blocked: {why}; watch the display")
            self._sleep_until(feed.ends_at)
        return Played(feed.began_at, feed.ends_at, feed.whole)

    def stop(self) -> None:
        """Cut off what is playing."""
        feed = self._playing
        if feed is not None:
            feed.cut = True

    def close(self) -> None:
        """Close the stream."""
        self.stop()
        with self._lock:
            self._abandon()

    def _open(self) -> None:
        if self._stream is not None and self._stream.active:
            return
        self._abandon()
        try:
            if self._backend is None:
                import sounddevice

                self._backend = sounddevice
            about = self._backend.query_devices(self._device, "output")
            self._rate_hz = int(about["default_samplerate"])
            self._stream = self._backend.OutputStream(
                samplerate=self._rate_hz,
                device=self._device,
                channels=1,
                dtype="int16",
                latency="low",
                callback=self._fill,
                finished_callback=self._finished,
            )
            self._stream.start()
        except Exception as fault:  # PortAudio's own error class is only known once it is loaded
            self._stream = None
            raise SoundError(f"no loudspeaker: {_one_line(fault)}; watch the display") from fault

    def _fill(self, out: Any, frames: int, times: Any, status: Any) -> None:  # noqa: ARG002
        """Give the device its next block. Runs on PortAudio's thread: no waiting, no files."""
        feed = self._playing
        if feed is None or feed.done.is_set():
            out.fill(0)
            return
        now = time.monotonic()
        delay = max(0.0, times.outputBufferDacTime - times.currentTime)
        feed.fill(out[:, 0], now + delay, self._rate_hz)

    def _finished(self) -> None:
        """The stream ended by itself: the device has gone."""
        feed = self._playing
        if feed is not None and not feed.done.is_set():
            feed.fault = "the device is gone"
            feed.done.set()

    def _abandon(self) -> None:
        """Drop the stream; a device that hangs while closing must not hold up the session."""
        stream, self._stream = self._stream, None
        if stream is not None:
            closer = threading.Thread(target=_close_quietly, args=(stream,), daemon=True)
            closer.start()
            closer.join(timeout=1.0)

    @staticmethod
    def _sleep_until(moment: float) -> None:
        left = moment - time.monotonic()
        if left > 0:
            time.sleep(min(left, 1.0))


class _Feed:
    """The samples of one answer on their way to the device."""

    def __init__(self, samples: Samples) -> None:
        self._samples = samples
        self._next = 0
        self.began_at = 0.0
        self.ends_at = 0.0
        self.whole = False
        self.cut = False
        self.fault: str | None = None
        self.done = threading.Event()

    def fill(self, out: Samples, heard_at: float, rate_hz: int) -> None:
        """Copy the next samples into `out`, which will be heard at `heard_at`."""
        if self._next == 0:
            self.began_at = heard_at
        count = 0 if self.cut else min(len(out), len(self._samples) - self._next)
        out[:count] = self._samples[self._next : self._next + count]
        out[count:] = 0
        self._next += count
        if self.cut or self._next >= len(self._samples):
            self.whole = self._next >= len(self._samples)
            self.ends_at = heard_at + count / rate_hz
            self.done.set()


def _close_quietly(stream: Any) -> None:
    try:
        stream.abort()
        stream.close()
    except Exception:  # noqa: S110 - it is being thrown away
        pass


def _one_line(fault: Exception) -> str:
    return " ".join(str(fault).split()) or type(fault).__name__
