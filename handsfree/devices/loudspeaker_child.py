"""The child process that owns the sound output, so that a blocked device can be killed.

Run by its path with the device (a number, part of a name, or nothing for the default). It begins
with ``{"ready": rate in Hz, "device": name}`` or ``{"error": why}``. ``{"play": id}`` with int16
samples at that rate is answered by ``{"began": id, "at": s}`` and ``{"ended": id, "at": s,
"whole": bool}``, times on the monotonic clock; ``{"stop": true}`` stops it. With ``"more": true``
the rest of the samples comes as ``{"more": id}`` while the first ones play; if it is late there is
silence. ``{"wake": true}`` warms up the stream for an answer. A fault is ``{"error": why}`` and the end
of the process: a new process sees the present devices.

Between answers the stream stays open but stopped: opening one takes 50 ms, and a running one costs 5 % of a
core in silence. A newly started stream loses its first 25 ms (measured on PulseAudio), so silence is played
first, unless the stream was woken in time.
"""

from __future__ import annotations

import os
import sys
import threading
import time
from typing import Any

from handsfree.child import Parent

LATENCY_S = 0.015  # requested of the device: less crackles on a busy machine, more delays answers
_TAIL_S = 0.02  # silence after the last sample, so that stopping the stream can't clip it
_LEAD_S = 0.03  # silence before the first sample, for a stream that was not running
_AWAKE_S = 6.0  # running time of a woken stream without an answer
_BYTES = 2  # a sample


class Feed:
    """The samples of one answer on their way to the device. Filled from PortAudio's thread."""

    def __init__(
        self, samples: bytes, rate_hz: int, lead_s: float = 0.0, *, unfinished: bool = False
    ) -> None:
        lead, self._tail = (bytes(_BYTES * round(pause * rate_hz)) for pause in (lead_s, _TAIL_S))
        self._samples = lead + samples + (b"" if unfinished else self._tail)
        self._unfinished = unfinished
        self._lead_s = lead_s
        self._rate_hz = rate_hz
        self._next = 0
        self.began_at: float | None = None
        self.ended_at = 0.0
        self.whole = False
        self.cut = False
        self.began = threading.Event()
        self.done = threading.Event()

    def finish(self, samples: bytes) -> None:
        """Append the rest of an unfinished answer."""
        self._samples += samples + self._tail  # before it counts as finished: PortAudio reads meanwhile
        self._unfinished = False

    def fill(self, out: Any, heard_at: float) -> None:
        """Copy the next samples into `out`, which will be audible at `heard_at`."""
        if self.began_at is None:
            self.began_at = heard_at + self._lead_s
            self.began.set()
        part = b"" if self.cut else self._samples[self._next : self._next + len(out)]
        out[:] = part.ljust(len(out), b"\0")
        self._next += len(part)
        if self.done.is_set():
            return
        if self.cut or (not self._unfinished and self._next >= len(self._samples)):
            self.whole = not self.cut
            tail = _TAIL_S if self.whole else 0.0
            self.ended_at = heard_at + len(part) / _BYTES / self._rate_hz - tail
            self.done.set()


class Loudspeaker:
    """One output stream and the answer playing on it."""

    def __init__(self, device: int | str | None) -> None:
        import sounddevice

        about = sounddevice.query_devices(device, "output")
        self.name = str(about["name"])
        self.rate_hz = int(about["default_samplerate"])
        self._feed: Feed | None = None
        self._running = False
        self._rest_at = 0.0
        self._stream = sounddevice.RawOutputStream(
            samplerate=self.rate_hz,
            device=device,
            channels=1,
            dtype="int16",
            latency=LATENCY_S,
            callback=self._fill,
        )

    @property
    def running(self) -> bool:
        """Whether the stream runs, with sound or silence."""
        return self._running

    def wake(self) -> None:
        """Start the stream with silence, so that an answer can begin at once."""
        if not self._running:
            self._stream.start()
            self._running = True
        self._rest_at = time.monotonic() + _AWAKE_S

    def play(self, samples: bytes, *, unfinished: bool = False) -> Feed:
        """Start playing."""
        lead_s = 0.0 if self._running else _LEAD_S
        feed = Feed(samples, self.rate_hz, lead_s, unfinished=unfinished)
        self._feed = feed
        self.wake()
        return feed

    def rest(self) -> None:
        """Stop the stream after its last sample."""
        self._stream.stop()
        self._running = False
        self._feed = None

    def rest_if_idle(self) -> None:
        """Stop a woken stream for which no answer came."""
        if self._running and time.monotonic() > self._rest_at:
            self.rest()

    def _fill(self, out: Any, frames: int, times: Any, status: Any) -> None:  # noqa: ARG002
        """Fill the device's next block, without waiting or file access."""
        feed = self._feed
        if feed is None:
            out[:] = bytes(len(out))
        else:
            delay = max(0.0, times.outputBufferDacTime - times.currentTime)
            feed.fill(out, time.monotonic() + delay)


def play(parent: Parent, speaker: Loudspeaker, answer: int, samples: bytes, *, unfinished: bool) -> None:
    """Play one answer and send the parent the times of its beginning and end."""
    feed = speaker.play(samples, unfinished=unfinished)
    feed.began.wait()
    parent.send({"began": answer, "at": feed.began_at})
    while not feed.done.wait(0.01):
        late = parent.receive(0)
        if late is not None and "stop" in late[0]:
            feed.cut = True
        elif late is not None and late[0].get("more") == answer:
            feed.finish(late[1])
    speaker.rest()  # it returns when the device has played all of it, which on a busy machine may be late
    ended_at = max(feed.ended_at, time.monotonic() - _TAIL_S) if feed.whole else feed.ended_at
    parent.send({"ended": answer, "at": ended_at, "whole": feed.whole})


def main() -> None:
    """Serve requests until standard input ends or the device fails."""
    parent = Parent()
    wanted = sys.argv[1] if len(sys.argv) > 1 else ""
    try:
        speaker = Loudspeaker((int(wanted) if wanted.isdecimal() else wanted) or None)
        parent.send({"ready": speaker.rate_hz, "device": speaker.name})
        while True:
            message = parent.receive(1.0 if speaker.running else None)
            if message is None:
                speaker.rest_if_idle()
            elif "wake" in message[0]:
                speaker.wake()
            elif "play" in message[0]:
                asked = message[0]
                play(parent, speaker, asked["play"], message[1], unfinished=asked.get("more", False))
            # a late stop, or the rest of a stopped answer, is ignored
    except Exception as fault:
        parent.send({"error": " ".join(str(fault).split()) or type(fault).__name__})
        os._exit(1)


if __name__ == "__main__":
    main()
