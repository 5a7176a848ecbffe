"""The microphone: sound at 16 kHz from any device, which may be lost and found again.

A child process (`microphone_child.py`) owns the device. If the device stalls or is unplugged, the process is
replaced by one that reads the list of devices again, until there is sound.

Sound is resampled to 16 kHz with very little delay. A general resampler needs look-ahead for its accuracy:
soxr's medium quality delays by 23 ms at 48 kHz (measured), which a person waits for at every answer. Here it
is a plain polyphase filter: it delays by half its length, 1.7 ms at 48 kHz, for 70 dB of rejection.
Source: windowed-sinc design with Kaiser's window, as in any textbook on signal processing (from memory).

How fit a microphone is in its place is measured from a silence and a phrase.
"""

from __future__ import annotations

import contextlib
import threading
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from enum import StrEnum
from math import gcd
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from handsfree.child import Child, ChildLostError, script_command
from handsfree.hear import SAMPLERATE_HZ, Samples

_ATTENUATION_DB = 70.0
_PASSED_HZ, _STOPPED_HZ = 7_000.0, 8_600.0  # speech above 7 kHz is breath; aliases stay above 7.4 kHz
_BETA = 0.1102 * (_ATTENUATION_DB - 8.7)  # Kaiser's own fit for more than 50 dB


class Resampler:
    """Converts a stream of (n,) int16 pieces at `samplerate_hz` to (m,) int16 pieces at 16 kHz."""

    def __init__(self, samplerate_hz: int) -> None:
        if samplerate_hz < 1:
            raise ValueError(f"wanted a sample rate in Hz, found {samplerate_hz}")
        common = gcd(samplerate_hz, SAMPLERATE_HZ)
        self._up, self._down = SAMPLERATE_HZ // common, samplerate_hz // common
        self._taps: NDArray[np.float32] = _bank(samplerate_hz, self._up)
        self._past = np.zeros(self._taps.shape[1] - 1, dtype=np.float32)
        self._due = 0  # time of the next output, in input samples times `up`, from the next piece's start

    @property
    def delay_s(self) -> float:
        """Delay of the output, in seconds."""
        return float((self._taps.shape[1] - 1) / 2 * self._up / self._down / SAMPLERATE_HZ)

    def __call__(self, samples: Samples) -> Samples:
        """Return the next piece converted; leftover samples wait for the piece after."""
        if self._up == self._down or not len(samples):
            return samples
        window = self._taps.shape[1]
        held = np.concatenate([self._past, samples.astype(np.float32)])
        count = max(0, -(-(len(samples) * self._up - self._due) // self._down))
        windows = np.lib.stride_tricks.sliding_window_view(held, window)
        if self._up == 1:  # 48 kHz and the like: one filter, and no copy of every window
            due = windows[self._due : self._due + self._down * count : self._down]
            values = np.einsum("ij,j->i", due, self._taps[0])
        else:
            times = self._due + self._down * np.arange(count)
            at, phase = times // self._up, times % self._up
            values = np.einsum("ij,ij->i", windows[at], self._taps[phase])
        self._due += self._down * count - len(samples) * self._up
        self._past = held[len(held) - (window - 1) :]
        return np.asarray(np.clip(np.round(values), -32_768, 32_767), dtype=np.int16)


def _bank(samplerate_hz: int, up: int) -> NDArray[np.float32]:
    """Return the filters, one for each phase: (up, taps) float32, newest sample last."""
    nyquist = min(1.0, samplerate_hz / SAMPLERATE_HZ)  # a slower device has a narrower band
    passed, stopped = _PASSED_HZ * nyquist, _STOPPED_HZ * nyquist
    width = 2 * np.pi * (stopped - passed) / samplerate_hz
    taps = int(np.ceil((_ATTENUATION_DB - 7.95) / (2.285 * width))) | 1
    # position of tap k of phase p, in input samples from the middle of the filter
    positions = np.arange(taps)[None, :] - (taps - 1) / 2 - np.arange(up)[:, None] / up
    cutoff = (passed + stopped) / samplerate_hz
    inside = np.clip(1 - (2 * positions / (taps + 1)) ** 2, 0, None)
    bank = cutoff * np.sinc(cutoff * positions) * np.i0(_BETA * np.sqrt(inside)) / np.i0(_BETA)
    return np.asarray(bank / bank.sum(axis=1, keepdims=True), dtype=np.float32)


_START_TIMEOUT_S = 6.0
_STALL_TIMEOUT_S = 3.0
_RETRY_S = (0.2, 0.5, 1.0, 2.0)  # a restarted device is back soon; one in a drawer isn't


@dataclass(frozen=True, slots=True, eq=False)
class Frame:
    """Sound: (n,) int16, 16 kHz mono. `at_s`: monotonic time of its last sample's capture."""

    samples: Samples
    at_s: float


@dataclass(frozen=True, slots=True)
class Overflow:
    """Sound was lost between two frames: an utterance across the gap can't be trusted."""


@dataclass(frozen=True, slots=True)
class MicrophoneLost:
    """The microphone was lost, or is missing. `why`: the device's own message."""

    why: str


@dataclass(frozen=True, slots=True)
class MicrophoneFound:
    """The microphone was found. `again`: it had been lost."""

    device: str
    samplerate_hz: int
    again: bool


MicrophoneEvent = Frame | Overflow | MicrophoneLost | MicrophoneFound


class Microphone:
    """Listens in its own thread and passes all events to `sink`, in order.

    Args:
        sink: receives the events; called from the microphone's thread, so it must only queue them.
        device: number or part of the name of an input device; None takes the default.
        command: the child's command, for tests; the device is appended.
    """

    def __init__(
        self,
        sink: Callable[[MicrophoneEvent], object],
        device: int | str | None = None,
        *,
        command: Sequence[str] | None = None,
    ) -> None:
        self._sink = sink
        self._command = list(command or script_command(Path(__file__).with_name("microphone_child.py")))
        self._command.append("" if device is None else str(device))
        self._stopping = threading.Event()
        self._child: Child | None = None
        self._thread = threading.Thread(target=self._run, name="microphone", daemon=True)
        self._calm = False
        self._heard = 0  # frames, over all devices
        self.overflows = 0
        """Number of overflows that the device has reported."""

    def start(self) -> None:
        """Start listening."""
        self._thread.start()

    def stop(self) -> None:
        """Stop listening and release the device."""
        self._stopping.set()
        child = self._child
        if child is not None:
            child.process.kill()
        if self._thread.is_alive():
            self._thread.join(timeout=5)

    def relax(self, calm: bool) -> None:
        """Set whether nobody is speaking, to save processor time with longer frames. Thread-safe.

        Frames of 32 ms become 128 ms; they are 32 ms again within one short frame.
        """
        child = self._child
        if calm == self._calm or child is None:
            return
        self._calm = calm
        with contextlib.suppress(ChildLostError):  # the next child begins with short frames
            child.send({"calm": calm})

    def __enter__(self) -> Microphone:
        self.start()
        return self

    def __exit__(self, *exc: object) -> None:
        self.stop()

    def _run(self) -> None:
        was_lost = False
        tries = 0
        while not self._stopping.is_set():
            heard_before = self._heard
            try:
                self._listen(was_lost)
            except (ChildLostError, OSError, ValueError, TypeError) as fault:
                if self._stopping.is_set():
                    return
                tries = 0 if self._heard != heard_before else tries + 1
                if not was_lost or self._heard != heard_before:
                    self._sink(MicrophoneLost(str(fault)))
                was_lost = True
            finally:
                if self._child is not None:
                    self._child.kill()
                    self._child = None
            self._stopping.wait(_RETRY_S[min(tries, len(_RETRY_S) - 1)])

    def _listen(self, again: bool) -> None:
        """Pass on the sound of one device until it fails.

        Raises:
            ChildLostError: it failed.
            OSError: the child can't be started.
            ValueError, TypeError: its messages are invalid.
        """
        self._calm = False
        child = self._child = Child(self._command)
        header, _ = child.receive(_START_TIMEOUT_S)
        if "ready" not in header:
            raise ChildLostError(str(header.get("error", "no greeting")))
        rate_hz, name = int(header["ready"]), str(header.get("device", ""))
        convert = Resampler(rate_hz)
        announced = False
        while True:
            header, payload = child.receive(_STALL_TIMEOUT_S)
            if "at" not in header:
                raise ChildLostError(str(header.get("error", "it talks nonsense")))
            if not announced:  # only sound proves that it works
                self._sink(MicrophoneFound(name, rate_hz, again))
                announced = True
            if header["lost"]:
                self.overflows += 1
                self._sink(Overflow())
            samples = convert(np.frombuffer(payload, dtype="<i2").astype(np.int16))
            self._heard += 1
            self._sink(Frame(samples, float(header["at"])))


# Common practice, no source: ratios that recognisers and people manage without trouble, and with some.
GOOD_SNR_DB, FAIR_SNR_DB = 20.0, 10.0
QUIET_DB = -42.0
CLIPPED_SHARE = 0.001
_CLIP = 32_700
_FRAME = SAMPLERATE_HZ // 50  # 20 ms

PLACE = (
    "Hang it two hands' widths from your mouth and a little to the side, out of your breath, with its "
    "back to the grinder and the air line."
)


class Fitness(StrEnum):
    """Fitness of a microphone."""

    GOOD = "good"
    FAIR = "fair"
    POOR = "poor"


@dataclass(frozen=True, slots=True)
class MicrophoneReport:
    """Measured levels in dB below full scale, and their meaning.

    floor_db: the room's median level. speech_db: level of the loud half of the phrase.
    clipped: share of the phrase's samples at full scale.
    """

    floor_db: float
    speech_db: float
    peak_db: float
    clipped: float

    @property
    def snr_db(self) -> float:
        """Signal-to-noise ratio: level of speech over the room, dB."""
        return self.speech_db - self.floor_db

    @property
    def fitness(self) -> Fitness:
        """Good, fair or poor."""
        if self.snr_db < FAIR_SNR_DB or self.speech_db < QUIET_DB - 12:
            return Fitness.POOR
        if self.snr_db < GOOD_SNR_DB or self.clipped > CLIPPED_SHARE or self.speech_db < QUIET_DB:
            return Fitness.FAIR
        return Fitness.GOOD

    @property
    def advice(self) -> tuple[str, ...]:
        """Advice, the most useful first; empty if nothing needs to be done."""
        found = []
        if self.clipped > CLIPPED_SHARE:
            found.append("It is driven too hard: turn its gain down, or move it away a little.")
        if self.speech_db < QUIET_DB:
            found.append("It hears you faintly: turn its gain up, or bring it closer.")
        if self.snr_db < GOOD_SNR_DB:
            found.append(f"The room is loud beside your voice. {PLACE}")
        return tuple(found)


def measure(room: Samples, phrase: Samples) -> MicrophoneReport:
    """Return the measurement of a microphone.

    room: (n,) int16 at 16 kHz, without speech. phrase: the same with speech.
    """
    levels = _levels_db(phrase)
    whole = phrase.astype(np.int32)
    peak = int(np.abs(whole).max()) if len(whole) else 0
    return MicrophoneReport(
        floor_db=float(np.median(_levels_db(room))),
        speech_db=float(np.median(np.sort(levels)[len(levels) // 2 :])),
        peak_db=_db(float(peak)),
        clipped=float(np.mean(np.abs(whole) >= _CLIP)) if len(whole) else 0.0,
    )


def _levels_db(samples: Samples) -> np.ndarray:
    count = max(1, len(samples) // _FRAME)
    frames = np.zeros(count * _FRAME)
    used = samples[: count * _FRAME]
    frames[: len(used)] = used
    rms = np.sqrt(np.mean(frames.reshape(count, _FRAME) ** 2, axis=1))
    return np.asarray([_db(float(each)) for each in rms])


def _db(amplitude: float) -> float:
    return float(20 * np.log10(max(amplitude, 0.5) / 32_768))
