"""One chunk of sound with its levels, and the utterance in progress."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field
from enum import StrEnum

import numpy as np

from handsfree.hear.heard import SAMPLERATE_HZ, Samples, Utterance
from handsfree.hear.vad import CHUNK

CHUNK_MS = 1000 * CHUNK / SAMPLERATE_HZ

# Thresholds of the voice detector. Steady noise is nearly always below 0.2, at any level (measured on
# pink, compressor-like and grinder-like noise), so a lower figure may count where the level agrees.
_SURE = 0.5
STILL = 0.35
_MAYBE = 0.2
_MAYBE_EXCESS_DB = 6.0
_SOFT = 0.15
_SOFT_EXCESS_DB = 5.0

# A voice in the background (a radio, people talking) keeps the detector at "speech" for as long as it goes
# on; only its level tells it from the person at the bench.
LULL_DB = 15.0
"""A speaker's weakest syllables are rarely this far below the loudest for long."""
_HUSH_DB = 25.0  # with 15, pauses between words were taken for the end when noise was 15 dB below speech
_HUSH_EXCESS_DB = 4.0  # the loudest of the bands; a steady room's own reaches it now and then
_LULL_MS = 350  # a lull must be this much longer than a silence
_LOUD_SHARE = 0.9


@dataclass(frozen=True, slots=True, eq=False)
class HeardChunk:
    """One chunk: its sound, the probability of speech, and its level over the room's.

    covered: no louder than the background talk, so that it can't be the speaker's.
    restless_db: peaks of the room's own sound over its level; a voice is recognised only above them.
    """

    samples: Samples
    voice: float
    excess_db: float
    level_db: float
    covered: bool = False
    restless_db: float = 0.0

    @property
    def sure(self) -> bool:
        """Whether it is certainly speech."""
        return not self.covered and (self.voice >= _SURE or self._likely)

    @property
    def still(self) -> bool:
        """Whether it continues speech that has begun."""
        return self.voice >= STILL or self._likely

    @property
    def soft(self) -> bool:
        """Whether it may be the soft beginning of speech."""
        loud = self.excess_db >= max(_SOFT_EXCESS_DB, self.restless_db)
        return not self.covered and (self.voice >= _SOFT or loud)

    @property
    def _likely(self) -> bool:
        return self.voice >= _MAYBE and self.excess_db >= _MAYBE_EXCESS_DB


@dataclass(slots=True)
class SpeechInHand:
    """The utterance in progress; chunks are numbered from the start of the source."""

    kept_from: int
    onset: int
    last_voice: int
    last_loud: int
    pause: Utterance | None = None
    enough_ms: float = 0.0
    levels_db: list[float] = field(default_factory=list)

    def silence_ms(self, now: int) -> float:
        """Return the time since the last voice, ms."""
        return (now - self.last_voice) * CHUNK_MS

    def lull_ms(self, now: int) -> float:
        """Return the time for which all voices were too weak to be the speaker's, less `_LULL_MS`."""
        return (now - self.last_loud) * CHUNK_MS - _LULL_MS

    def hushed(self, heard: HeardChunk) -> bool:
        """Return whether a chunk is as quiet as the room, whatever the voice detector says.

        The detector stays at "voice" for some 65 ms after a voice has ended. Sound that is both far below
        the speaker and no louder than the room in any band is not a voice. In a loud room no sound is that
        far below the speaker.
        """
        return heard.excess_db < _HUSH_EXCESS_DB and heard.level_db < self.loud_db() - _HUSH_DB

    def last(self, now: int) -> int:
        """Return the last chunk of the speaker's voice."""
        return self.last_voice if self.silence_ms(now) >= self.lull_ms(now) else self.last_loud

    def loud_db(self, older_than: int = 0) -> float:
        """Return the 90 % quantile of the voiced chunks' level, without the newest ones."""
        levels = self.levels_db[: len(self.levels_db) - older_than]
        rank = int(_LOUD_SHARE * (len(levels) - 1))
        return float(np.partition(levels, rank)[rank])


@dataclass(frozen=True, slots=True)
class Timing:
    """Waiting times of the endpointer, and the sound it keeps.

    pause_ms: silence after which decoding may begin early; as much sound is kept after the last word.
    closed_ms, complete_ms, digits_ms, end_ms, incomplete_ms: silence that ends an utterance when it is
        known to be a complete command whose number can't continue, any complete command, one that ends
        with digits and may continue, when nothing is known or a number is likely to continue, and when it
        is known to be incomplete. In a loud room the person waits some 65 ms longer (fixtures, median),
        the delay of the voice detector.
    before_ms: sound kept before speech begins. reach_ms: a soft beginning, such as the s of "six", is
        searched this far before the voice detector's first certain chunk.
    longest_s: longer utterances are split.
    """

    pause_ms: float = 200
    closed_ms: float = 160
    complete_ms: float = 288
    digits_ms: float = 384
    end_ms: float = 550
    incomplete_ms: float = 1000
    before_ms: float = 320
    reach_ms: float = 500
    longest_s: float = 15.0


class Cause(StrEnum):
    """Cause of an utterance's end."""

    SILENCE = "silence"
    LULL = "a lull over voices in the background"
    OVERTAKEN = "a louder voice"
    LENGTH = "length"
    SOURCE = "end of the source"


@dataclass(frozen=True, slots=True)
class SpeechStarted:
    """Speech has begun, `at_s` seconds into the source."""

    at_s: float


@dataclass(frozen=True, slots=True, eq=False)
class Pause:
    """The first short silence: decoding may begin, and is discarded if speech resumes."""

    utterance: Utterance


@dataclass(frozen=True, slots=True)
class Resumed:
    """Speech resumed after a `Pause`, `at_s` seconds into the source."""

    at_s: float


@dataclass(frozen=True, slots=True, eq=False)
class Ended:
    """The utterance has ended. If silence ended it, it is the same object as that of the last `Pause`."""

    utterance: Utterance
    cause: Cause


EndpointEvent = SpeechStarted | Pause | Resumed | Ended

Complete = Callable[[Utterance], bool | None]
"""Returns whether the words so far are a complete command: True, False, or None for unknown."""
