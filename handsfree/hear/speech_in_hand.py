"""One chunk as it was heard, and the utterance that is being put together from chunks."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field
from enum import StrEnum

import numpy as np

from handsfree.hear.heard import SAMPLERATE_HZ, Samples, Utterance
from handsfree.hear.vad import CHUNK

CHUNK_MS = 1000 * CHUNK / SAMPLERATE_HZ

# What the voice detector must say. Steady noise stays below 0.2 nearly always, at any level (measured on
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
"""A person's weakest syllables are rarely that far below their loudest for long."""
_HUSH_DB = 25.0  # with 15, pauses between words passed for its end where noise was 15 dB below the speech
_HUSH_EXCESS_DB = 4.0  # the loudest of the bands; a steady room's own reaches it now and then
_LULL_MS = 350  # how much longer a lull must be than a silence
_LOUD_SHARE = 0.9


@dataclass(frozen=True, slots=True, eq=False)
class HeardChunk:
    """One chunk: its sound, the probability of speech, and its level over the room's.

    covered: no louder than talk that goes on in the background, so that it can't be the speaker's.
    restless_db: how far the room's own sound rises over its level now and then; no voice is known by less.
    """

    samples: Samples
    voice: float
    excess_db: float
    level_db: float
    covered: bool = False
    restless_db: float = 0.0

    @property
    def sure(self) -> bool:
        """Whether it is speech beyond doubt."""
        return not self.covered and (self.voice >= _SURE or self._likely)

    @property
    def still(self) -> bool:
        """Whether speech that has begun goes on."""
        return self.voice >= STILL or self._likely

    @property
    def soft(self) -> bool:
        """Whether it may be the soft beginning of speech that follows."""
        loud = self.excess_db >= max(_SOFT_EXCESS_DB, self.restless_db)
        return not self.covered and (self.voice >= _SOFT or loud)

    @property
    def _likely(self) -> bool:
        return self.voice >= _MAYBE and self.excess_db >= _MAYBE_EXCESS_DB


@dataclass(slots=True)
class SpeechInHand:
    """The utterance in hand; numbers are those of chunks, counted from the start of the source."""

    kept_from: int
    onset: int
    last_voice: int
    last_loud: int
    pause: Utterance | None = None
    enough_ms: float = 0.0
    levels_db: list[float] = field(default_factory=list)

    def silence_ms(self, now: int) -> float:
        """How long no voice has been heard."""
        return (now - self.last_voice) * CHUNK_MS

    def lull_ms(self, now: int) -> float:
        """How long any voice has been too weak to be the speaker's, less what a speaker may be."""
        return (now - self.last_loud) * CHUNK_MS - _LULL_MS

    def hushed(self, heard: HeardChunk) -> bool:
        """Whether a chunk is as quiet as the room, whatever the voice detector says.

        The detector goes on for some 65 ms after a voice has ended. Sound that is both far below the
        speaker and no louder than the room in any band is no voice. In a loud room nothing is so far below.
        """
        return heard.excess_db < _HUSH_EXCESS_DB and heard.level_db < self.loud_db() - _HUSH_DB

    def last(self, now: int) -> int:
        """The last chunk of the speaker's voice."""
        return self.last_voice if self.silence_ms(now) >= self.lull_ms(now) else self.last_loud

    def loud_db(self, older_than: int = 0) -> float:
        """Level that nine of ten voiced chunks stay below, the newest left out."""
        levels = self.levels_db[: len(self.levels_db) - older_than]
        rank = int(_LOUD_SHARE * (len(levels) - 1))
        return float(np.partition(levels, rank)[rank])


@dataclass(frozen=True, slots=True)
class Timing:
    """How long the endpointer waits, and how much it keeps.

    pause_ms: silence after which decoding may begin early; as much is kept after the last word.
    closed_ms, complete_ms, digits_ms, end_ms, incomplete_ms: silence that ends an utterance when it is
        known to be a complete command whose number can't go on, any complete command, one that ends
        with digits and may go on with more, when nothing is known or a number is likely to go on, and
        when it is known to lack something. In a loud room the person waits some 65 ms longer (fixtures,
        median): the voice detector is so late to say that a voice has ended.
    before_ms: sound kept before speech begins. reach_ms: how far back a soft beginning, as the s of
        "six", is looked for before the voice detector's first certainty.
    longest_s: an utterance is split when it gets longer.
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
    """Why an utterance ended."""

    SILENCE = "silence"
    LULL = "a lull over voices in the background"
    OVERTAKEN = "a louder voice"
    LENGTH = "length"
    SOURCE = "end of the source"


@dataclass(frozen=True, slots=True)
class SpeechStarted:
    """Somebody has begun to speak, `at_s` seconds into the source."""

    at_s: float


@dataclass(frozen=True, slots=True, eq=False)
class Pause:
    """The first short silence: decoding may begin, and is thrown away if speech goes on."""

    utterance: Utterance


@dataclass(frozen=True, slots=True)
class Resumed:
    """Speech went on after a `Pause`, `at_s` seconds into the source."""

    at_s: float


@dataclass(frozen=True, slots=True, eq=False)
class Ended:
    """The utterance is over. It is the very object that the last `Pause` gave, if silence ended it."""

    utterance: Utterance
    cause: Cause


EndpointEvent = SpeechStarted | Pause | Resumed | Ended

Complete = Callable[[Utterance], bool | None]
"""Says whether what was said so far is a whole command: yes, no, or don't know."""
