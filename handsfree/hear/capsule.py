"""The child process that owns the microphone, so that one that stalls can be killed.

Run by its path with the device (a number, part of a name, or nothing for the default). It greets
with ``{"ready": rate in Hz, "device": name}`` and then sends ``{"at": s, "lost": n}`` with int16
mono samples: `at` is the monotonic time at which the last of them was captured, `lost` how many
overflows the device has reported since the message before. A fault is ``{"error": why}`` and the
end of the process: a new one sees the devices as they are then.
"""

from __future__ import annotations

import os
import queue
import sys
import time
from typing import Any

from handsfree.child import Parent

BLOCK_S = 0.008  # PortAudio keeps two of them: with twice as much, each answer comes 13 ms later
_TOGETHER = 2  # blocks in a message: the parent wakes less often, and listens in steps of 32 ms anyway
_STALL_S = 2.0  # a device that gives nothing for so long has gone
_OTHER_RATES_HZ = (48_000, 44_100, 16_000)
_MOST_WAITING = 500  # blocks, 4 s: beyond that the parent isn't listening

Block = tuple[bytes, float, bool]


class Capsule:
    """One input stream. The callback copies, queues, counts, and does nothing else."""

    def __init__(self, device: int | str | None) -> None:
        import sounddevice

        about = sounddevice.query_devices(device, "input")
        self.name = str(about["name"])
        self.blocks: queue.SimpleQueue[Block] = queue.SimpleQueue()
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
        lost = bool(status.input_overflow)
        if self.blocks.qsize() < _MOST_WAITING:
            self.blocks.put((bytes(samples), now - behind, lost))

    def mono(self, samples: bytes) -> bytes:
        """Give the first channel: the others hold the same voice, later or fainter."""
        if self.channels == 1:
            return samples
        step = 2 * self.channels
        return b"".join(samples[start : start + 2] for start in range(0, len(samples), step))


def main() -> None:
    """Send sound until standard input ends or the device fails."""
    parent = Parent()
    wanted = sys.argv[1] if len(sys.argv) > 1 else ""
    try:
        capsule = Capsule((int(wanted) if wanted.isdecimal() else wanted) or None)
        parent.send({"ready": capsule.rate_hz, "device": capsule.name})
        while True:
            try:
                blocks = [capsule.blocks.get(timeout=_STALL_S) for _ in range(_TOGETHER)]
            except queue.Empty:
                raise RuntimeError("no sound comes from it") from None
            overflows = sum(block[2] for block in blocks)
            lost = max(overflows, int(capsule.blocks.qsize() >= _MOST_WAITING - 1))
            samples = b"".join(block[0] for block in blocks)
            parent.send({"at": blocks[-1][1], "lost": lost}, capsule.mono(samples))
    except Exception as fault:
        parent.send({"error": " ".join(str(fault).split()) or type(fault).__name__})
        os._exit(1)


if __name__ == "__main__":
    main()
