"""Microphone and loudspeaker of a browser, in place of this machine's while a page holds them.

The page speaks the language of the loudspeaker's child process, so the same player drives both. Its sound
comes in numbered pieces: a missing number is sound that was lost.
"""

from __future__ import annotations

import json
import queue
import threading
import time
from collections.abc import Callable
from typing import Any

import numpy as np

from handsfree.child import ChildLostError, ChildSilentError, Message
from handsfree.devices import (
    Frame,
    HasVolume,
    MicrophoneEvent,
    MicrophoneFound,
    MicrophoneLost,
    Overflow,
    Played,
    Player,
    Resampler,
    SoundPlayer,
    Then,
)
from handsfree.speak import Sound

SLOWEST_HZ, FASTEST_HZ = 8_000, 192_000
"""Sample rates that a page may name."""

_DRIFT = 1e-3  # seconds a second that two clocks may drift apart: more than any crystal's
_FURTHEST_S = 0.5  # a piece this far from where its count puts it: the page stood still


class StreamClock:
    """When each sample of a stream was captured, told from the times at which its pieces arrive.

    A network delays pieces by different times, never by less than none: the quickest ones tell the clock's
    offset.

    >>> clock = StreamClock(16_000)
    >>> [round(clock.captured(512, at), 3) for at in (10.0, 10.052, 10.064)]
    [10.0, 10.032, 10.064]
    """

    def __init__(self, samplerate_hz: int) -> None:
        self._samplerate_hz = samplerate_hz
        self._position_s = 0.0
        self._offset_s: float | None = None

    def captured(self, count: int, arrived_at: float) -> float:
        """Return when the last of `count` more samples was captured, in the arrival's clock."""
        lasts_s = count / self._samplerate_hz
        self._position_s += lasts_s
        offset_s = arrived_at - self._position_s
        if self._offset_s is None or offset_s > self._offset_s + _FURTHEST_S:
            self._offset_s = offset_s
        else:
            self._offset_s = min(offset_s, self._offset_s + _DRIFT * lasts_s)
        return self._position_s + self._offset_s


class PageLine:
    """The connection to one page's sound.

    Args:
        send: sends one message to the page, from any thread.
        samplerate_hz: of the sound that it sends.
        played_hz: of the sound that it plays.
        name: what the page calls its microphone.
    """

    def __init__(
        self,
        send: Callable[[bytes], object],
        samplerate_hz: int,
        played_hz: int,
        name: str,
        clock: Callable[[], float] = time.monotonic,
    ) -> None:
        self.name = name
        self.samplerate_hz = samplerate_hz
        self.closed = threading.Event()
        self._send = send
        self._clock = clock
        self._resampled = Resampler(samplerate_hz)
        self._stream = StreamClock(samplerate_hz)
        self._next = 0
        self._inbox: queue.SimpleQueue[Message | None] = queue.SimpleQueue()
        self._inbox.put(({"ready": played_hz, "device": name}, b""))

    # ---- what the player needs of it

    def send(self, header: dict[str, Any], payload: bytes = b"") -> None:
        """Send a message.

        Raises:
            ChildLostError: the connection was lost.
        """
        if self.closed.is_set():
            raise ChildLostError("the connection to the page was lost")
        self._send(json.dumps(header).encode() + b"\n" + payload)

    def receive(self, timeout_s: float | None = None) -> Message:
        """Wait for the page's next answer and return it.

        Raises:
            ChildSilentError: it didn't come in time.
            ChildLostError: the connection was lost.
        """
        try:
            message = self._inbox.get(timeout=None if timeout_s is None else max(0.0, timeout_s))
        except queue.Empty:
            raise ChildSilentError("the page takes too long") from None
        if message is None:
            self._inbox.put(None)  # so that every later call raises the same
            raise ChildLostError("the connection to the page was lost")
        return message

    def kill(self) -> None:
        """Give the connection up."""
        self.closed.set()
        self._inbox.put(None)

    # ---- what comes from the page

    def answered(self, header: dict[str, Any]) -> None:
        """Take an answer: a sound began or ended, `in_s` seconds from now."""
        what = next((name for name in ("began", "ended") if isinstance(header.get(name), int)), None)
        in_s = header.get("in_s")
        if what is None or not isinstance(in_s, int | float) or not -1 <= in_s <= 10:
            return
        at = self._clock() + in_s
        self._inbox.put(({what: header[what], "at": at, "whole": header.get("whole") is True}, b""))

    def heard(self, number: int, payload: bytes) -> list[MicrophoneEvent]:
        """Take (n,) int16 samples with their number; return what they mean to the bench."""
        samples = np.frombuffer(payload[: len(payload) // 2 * 2], dtype="<i2").astype(np.int16)
        events: list[MicrophoneEvent] = []
        if number != self._next:
            events.append(Overflow())
            self._stream = StreamClock(self.samplerate_hz)  # nobody knows for how long
        at_s = self._stream.captured(len(samples), self._clock())
        self._next = number + 1
        events.append(Frame(self._resampled(samples), at_s))
        return events


class PageSound:
    """This machine's microphone and loudspeaker, or those of the page that took them.

    One page at a time holds them; it keeps them while its connection is lost, until it or another page gives
    them back.

    Args:
        sink: takes the microphone's events.
        local: the player of this machine.
        volume: 0 to 1, of full scale, on the page.
    """

    def __init__(self, sink: Callable[[MicrophoneEvent], object], local: Player, volume: float) -> None:
        self._sink = sink
        self._local = local
        self._player = SoundPlayer(volume=volume)
        self._line: PageLine | None = None
        self._lock = threading.Lock()
        self._found: MicrophoneFound | None = None
        self.holder = ""
        """The page that holds them; empty for none."""

    # ---- the microphones

    def from_here(self, event: MicrophoneEvent) -> None:
        """Take an event of this machine's microphone; it goes no further while a page holds the ears."""
        if isinstance(event, MicrophoneFound):
            self._found = event
        elif isinstance(event, MicrophoneLost):
            self._found = None
        if not self.holder:
            self._sink(event)

    def take(self, holder: str, line: PageLine) -> None:
        """Hand ears and mouth to a page."""
        with self._lock:
            again = self.holder == holder
            former, self._line, self.holder = self._line, line, holder
            self._player = SoundPlayer(volume=self._player.volume, connect=lambda: line)
        if former is not None:
            former.kill()
        self._sink(Overflow())  # nothing said to the other microphone goes on in this one
        self._sink(MicrophoneFound(line.name, line.samplerate_hz, again=again and former is None))

    def heard(self, line: PageLine, number: int, payload: bytes) -> None:
        """Take a page's sound."""
        if line is self._line:
            for event in line.heard(number, payload):
                self._sink(event)

    def lost(self, line: PageLine, why: str) -> None:
        """Note that a page's connection has ended. It still holds them, and may come back."""
        with self._lock:
            line.kill()
            if line is not self._line:
                return
            self._line = None
        self._sink(MicrophoneLost(why))

    def give_back(self) -> None:
        """Return ears and mouth to this machine."""
        with self._lock:
            if not self.holder:
                return
            line, self._line, self.holder = self._line, None, ""
        if line is not None:
            line.kill()
        self._sink(Overflow())
        self._sink(self._found or MicrophoneLost("the page gave its microphone back"))

    # ---- the loudspeakers

    @property
    def volume(self) -> float:
        """The volume, 0 to 1, of full scale."""
        return self._player.volume

    def turn(self, factor: float) -> None:
        """Play so many times as loud from the next answer on, here and on the page."""
        self._player.turn(factor)
        if isinstance(self._local, HasVolume):
            self._local.turn(factor)

    def play(self, sound: Sound, label: str = "", then: Then | None = None) -> Played:
        """Play on the page that holds the mouth, else on this machine.

        Raises:
            SoundError: it can't be played.
        """
        return self._mouth().play(sound, label, then)

    def wake(self) -> None:
        """Warm up the device."""
        self._mouth().wake()

    def stop(self) -> None:
        """Stop the sound that is playing, if any."""
        self._mouth().stop()

    def close(self) -> None:
        """Release the devices."""
        with self._lock:
            line, self._line = self._line, None
        if line is not None:
            line.kill()
        self._local.close()

    def _mouth(self) -> Player:
        with self._lock:
            return self._local if self._line is None else self._player
