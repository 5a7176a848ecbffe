"""The child process that owns the microphone, so that a stalled device can be killed.

Run by its path with the device (a number, part of a name, or nothing for the default). It begins
with ``{"ready": rate in Hz, "device": name}`` and then sends ``{"at": s, "lost": n}`` with int16
mono samples: `at` is the monotonic time of the last sample's capture, `lost` the number of overflows
reported by the device since the previous message. ``{"calm": true}`` from the parent means that nobody is
speaking: messages are longer then, since sending one costs more than its content. A fault is
``{"error": why}`` and the end of the process: a new process sees the present devices.
"""

from __future__ import annotations

import os
import queue
import sys
import threading
import time
from typing import Any

from handsfree.child import Parent

BLOCK_S = 0.008  # PortAudio buffers two of them: with twice as much, each answer comes 13 ms later
_STEP = 4  # blocks in a message, 32 ms: the parent's own step, so it adds no delay
_CALM_STEPS = (
    4  # steps in a message while nobody speaks, 128 ms: the beginning of a word can wait, not its end
)
_STALL_S = 2.0  # a device without sound for this long is lost
_OTHER_RATES_HZ = (48_000, 44_100, 16_000)
_MOST_WAITING = 125  # messages, 4 s: beyond that the parent isn't listening

Piece = tuple[bytes, float, int]
"""Samples of all channels, time of the last one's capture, and number of overflows."""


class Capsule:
    """One input stream. The callback copies, counts, queues every few blocks, and does nothing else."""

    def __init__(self, device: int | str | None) -> None:
        import sounddevice

        about = sounddevice.query_devices(device, "input")
        self.name = str(about["name"])
        self.pieces: queue.SimpleQueue[Piece] = queue.SimpleQueue()
        self._blocks: list[bytes] = []
        self._overflows = 0
        self.calm = False
        default_hz = int(about["default_samplerate"])
        tries = [(default_hz, 1), (default_hz, 2), *((rate, n) for rate in _OTHER_RATES_HZ for n in (1, 2))]
        for rate_hz, channels in tries:
            try:
                self._stream = sounddevice.RawInputStream(
                    samplerate=rate_hz,
                    blocksize=round(rate_hz * BLOCK_S),
                    device=device,
                    channels=channels,
                    dtype="int16",
                    latency="low",
                    callback=self._take,
                )
            except sounddevice.PortAudioError:
                if (rate_hz, channels) == tries[-1]:
                    raise
            else:
                self.rate_hz, self.channels = rate_hz, channels
                break
        self._stream.start()

    def _take(self, samples: Any, frames: int, times: Any, status: Any) -> None:
        now = time.monotonic()
        behind = max(0.0, times.currentTime - times.inputBufferAdcTime - frames / self._stream.samplerate)
        self._overflows += bool(status.input_overflow)
        self._blocks.append(bytes(samples))
        count = len(self._blocks)
        if count % _STEP or (self.calm and count < _STEP * _CALM_STEPS):
            return
        blocks, self._blocks = self._blocks, []
        if self.pieces.qsize() >= _MOST_WAITING:
            self._overflows += 1  # reported with the next message that fits into the queue
            return
        overflows, self._overflows = self._overflows, 0
        self.pieces.put((b"".join(blocks), now - behind, overflows))

    def mono(self, samples: bytes) -> bytes:
        """Return the first channel: the others hold the same voice, later or fainter."""
        if self.channels == 1:
            return samples
        step = 2 * self.channels
        return b"".join(samples[start : start + 2] for start in range(0, len(samples), step))


def _obey(parent: Parent, capsule: Capsule) -> None:
    while message := parent.receive():
        capsule.calm = bool(message[0].get("calm"))


def main() -> None:
    """Send sound until standard input ends or the device fails."""
    parent = Parent()
    wanted = sys.argv[1] if len(sys.argv) > 1 else ""
    try:
        capsule = Capsule((int(wanted) if wanted.isdecimal() else wanted) or None)
        parent.send({"ready": capsule.rate_hz, "device": capsule.name})
        threading.Thread(target=_obey, args=(parent, capsule), daemon=True).start()
        while True:
            try:
                samples, at_s, overflows = capsule.pieces.get(timeout=_STALL_S)
            except queue.Empty:
                raise RuntimeError("no sound comes from it") from None
            parent.send({"at": at_s, "lost": overflows}, capsule.mono(samples))
    except Exception as fault:
        parent.send({"error": " ".join(str(fault).split()) or type(fault).__name__})
        os._exit(1)


if __name__ == "__main__":
    main()
