"""Phrases read aloud, one after the other, each ended by its silence."""

from __future__ import annotations

import queue
import time
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from enum import StrEnum

import numpy as np

from handsfree.devices import QUIET_DB, Frame, Microphone, MicrophoneEvent, MicrophoneLost, Overflow
from handsfree.errors import SoundError
from handsfree.hear import SAMPLERATE_HZ, Ended, Endpointer, Samples, Timing
from handsfree.live.listen_check import wait_for_sound
from handsfree.recordings import active_level_db, to_sound

_PATIENCE_S = 12.0  # for the user to begin
_AROUND_S = 0.8  # of room sound kept before and after speech, so that it can be endpointed again
_TIMING = Timing(end_ms=900)  # reading aloud has longer pauses than speech at the bench


class Trouble(StrEnum):
    """The reason for asking for a phrase once more."""

    SILENT = "Nothing was heard."
    QUIET = "That was very quiet: come closer, or speak up."
    TORN = "Sound was lost in it."


@dataclass(frozen=True, slots=True, eq=False)
class Take:
    """The recording of a phrase: (n,) int16 at 16 kHz, empty if nothing was heard."""

    samples: Samples
    trouble: Trouble | None = None


class Takes:
    """Records phrases from the microphone in turn; a context manager.

    Args:
        device: number or part of the name of an input device; None takes the default.
        patience_s: time for the user to begin.
        command: the command line of the microphone process, for tests.
    """

    def __init__(
        self,
        device: str | None = None,
        patience_s: float = _PATIENCE_S,
        command: Sequence[str] | None = None,
    ) -> None:
        self._events: queue.SimpleQueue[MicrophoneEvent] = queue.SimpleQueue()
        self._microphone = Microphone(self._events.put, device, command=command)
        self._ears = Endpointer(_TIMING)
        self._patience_s = patience_s
        self.device = ""
        """The device's name, once it is open."""

    def __enter__(self) -> Takes:
        """Begin to listen.

        Raises:
            SoundError: there is no microphone.
        """
        self._microphone.start()
        try:
            self.device = wait_for_sound(self._events)
        except BaseException:
            self._microphone.stop()
            raise
        return self

    def __exit__(self, *exc: object) -> None:
        self._microphone.stop()

    def take(self, show: Callable[[], object]) -> Take:
        """Show a phrase and return the recording of its utterance.

        Raises:
            SoundError: the microphone has gone.
        """
        self._pass_over_what_waits()
        began_s = self._ears.time_s
        show()
        pieces: list[Samples] = []
        torn = False
        begin_by = time.monotonic() + self._patience_s
        while self._ears.speaking or time.monotonic() < begin_by:
            try:
                event = self._events.get(timeout=0.2)
            except queue.Empty:
                continue
            if isinstance(event, MicrophoneLost):
                raise SoundError(f"the microphone went away: {event.why}; plug it in and begin again")
            if isinstance(event, Overflow):
                torn = torn or self._ears.speaking
            elif isinstance(event, Frame):
                pieces.append(event.samples)
                for happened in self._ears.feed(event.samples):
                    if isinstance(happened, Ended):
                        return _taken(np.concatenate(pieces), happened, began_s, torn)
        return Take(np.zeros(0, np.int16), Trouble.SILENT)

    def _pass_over_what_waits(self) -> None:
        passed = 0
        while not self._events.empty():
            event = self._events.get()
            if isinstance(event, MicrophoneLost):
                raise SoundError(f"the microphone went away: {event.why}; plug it in and begin again")
            passed += len(event.samples) if isinstance(event, Frame) else 0
        self._ears.skip(passed)


def trouble_with(samples: Samples) -> Trouble | None:
    """Return whether a phrase, (n,) int16 at 16 kHz, is too quiet to score."""
    return Trouble.QUIET if active_level_db(to_sound(samples)) < QUIET_DB else None


def _taken(heard: Samples, ended: Ended, began_s: float, torn: bool) -> Take:
    spoken = ended.utterance
    begin = round((spoken.start_s - began_s - _AROUND_S) * SAMPLERATE_HZ)
    end = round((spoken.end_s - began_s + _AROUND_S) * SAMPLERATE_HZ)
    trouble = Trouble.TORN if torn else trouble_with(spoken.samples)
    return Take(heard[max(0, begin) : max(0, end)], trouble)
