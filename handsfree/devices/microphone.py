"""The microphone: sound at 16 kHz from any device, which may be lost and found again.

A child process (`microphone_child.py`) owns the device. If the device stalls or is unplugged, the process is
replaced by one that reads the list of devices again, until there is sound.
"""

from __future__ import annotations

import contextlib
import threading
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from pathlib import Path

import numpy as np

from handsfree.child import Child, ChildLostError, script_command
from handsfree.devices.resample import Resampler
from handsfree.hear import Samples

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
