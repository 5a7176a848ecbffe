"""Where speech begins and ends in a stream of sound, whatever the stream comes from."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass, field
from enum import StrEnum

import numpy as np
from numpy.typing import NDArray

from handsfree.hear.background import SILENCE_DB, Background, total_db
from handsfree.hear.heard import SAMPLERATE_HZ, Samples, Utterance
from handsfree.hear.vad import CHUNK, VoiceActivity

CHUNK_MS = 1000 * CHUNK / SAMPLERATE_HZ

# What the voice detector must say. Steady noise stays below 0.2 nearly always, at any level (measured on
# pink, compressor-like and grinder-like noise), so a lower figure may count where the level agrees.
_SURE = 0.5
_STILL = 0.35
_MAYBE = 0.2
_MAYBE_EXCESS_DB = 6.0
_START_CHUNKS, _START_OF = 4, 6  # three of five chunks: 96 ms of voice; a click is shorter
_SOFT = 0.15
_SOFT_EXCESS_DB = 5.0
_SOFT_GAP = 3  # chunks of silence inside a soft beginning, as before the t of "top"
_LOUDEST_GAIN = 32.0
_GAIN_PEAK = 0.25
_GAIN_CHUNKS = 160  # the gain follows the loudest of the last 5 s
_SPLIT_BACK_S = 5.0

# A voice in the background (a radio, people talking) keeps the detector at "speech" for as long as it goes
# on; only its level tells it from the person at the bench.
_LULL_DB = 15.0  # a person's weakest syllables are rarely that far below their loudest for long
_LULL_MS = 350  # how much longer a lull must be than a silence
_OVER_DB = 10.0  # a voice that much louder than all before it is another voice
_OVER_AFTER = 31  # chunks: 1 s of the quieter one
_FORGIVE_DB = 1.0 * CHUNK_MS / 1000  # the gate against the quieter voice falls by 1 dB a second


@dataclass(frozen=True, slots=True)
class Timing:
    """How long the endpointer waits, and how much it keeps.

    pause_ms: silence after which decoding may begin early; as much is kept after the last word.
    complete_ms, end_ms, incomplete_ms: silence that ends an utterance when it is known to be a
        complete command, when nothing is known, and when it is known to lack something.
    before_ms: sound kept before speech begins. reach_ms: how far back a soft beginning, as the s of
        "six", is looked for before the voice detector's first certainty.
    longest_s: an utterance is split when it gets longer.
    """

    pause_ms: float = 200
    complete_ms: float = 200
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


@dataclass(frozen=True, slots=True, eq=False)
class _Heard:
    """One chunk: its sound, the probability of speech, and its level over the room's."""

    samples: Samples
    voice: float
    excess_db: float
    level_db: float

    @property
    def sure(self) -> bool:
        return self.voice >= _SURE or self._likely

    @property
    def still(self) -> bool:
        return self.voice >= _STILL or self._likely

    @property
    def soft(self) -> bool:
        return self.voice >= _SOFT or self.excess_db >= _SOFT_EXCESS_DB

    @property
    def _likely(self) -> bool:
        return self.voice >= _MAYBE and self.excess_db >= _MAYBE_EXCESS_DB


@dataclass(slots=True)
class _Speech:
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

    def last(self, now: int) -> int:
        """The last chunk of the speaker's voice."""
        return self.last_voice if self.silence_ms(now) >= self.lull_ms(now) else self.last_loud

    def loud_db(self, older_than: int = 0) -> float:
        """Level that nine of ten voiced chunks stay below, the newest left out."""
        levels = self.levels_db[: len(self.levels_db) - older_than]
        rank = int(0.9 * (len(levels) - 1))
        return float(np.partition(levels, rank)[rank])


class Endpointer:
    """Takes the sound of one source, in pieces of any size, and says where speech begins and ends."""

    def __init__(self, timing: Timing | None = None, complete: Complete | None = None) -> None:
        """Make one; `complete`, if given, is asked at every `Pause` how long to wait for more."""
        self.timing = timing or Timing()
        self._complete = complete
        self._voice = VoiceActivity()
        self._room = Background(CHUNK)
        self._peaks = np.zeros(_GAIN_CHUNKS, np.float32)
        self._waiting: list[Samples] = []
        self._waiting_count = 0
        self._kept: list[_Heard] = []
        self._next = 0  # number of the chunk to come
        self._barrier = 0  # no utterance may reach back beyond this chunk: the one before has it
        self._speech: _Speech | None = None
        self._gate_db = -math.inf  # voices below it are those in the background
        self._hush = 0  # chunks since the last voice of any loudness
        self.level_db = SILENCE_DB
        """Level of the last 32 ms, dB below full scale."""

    @property
    def floor_db(self) -> float:
        """Level of the room when nobody speaks, dB below full scale."""
        return total_db(self._room.floor_db)

    @property
    def speaking(self) -> bool:
        """Whether an utterance is in hand."""
        return self._speech is not None

    @property
    def time_s(self) -> float:
        """How much of the source has been heard."""
        return self._next * CHUNK / SAMPLERATE_HZ

    def feed(self, samples: Samples) -> list[EndpointEvent]:
        """Take the next piece of sound and give what happened in it.

        samples: (n,) int16, 16 kHz mono, any n.
        """
        if samples.dtype != np.int16 or samples.ndim != 1:
            raise ValueError(f"wanted (n,) int16, found {samples.shape} {samples.dtype}")
        self._waiting.append(samples)
        self._waiting_count += len(samples)
        if self._waiting_count < CHUNK:
            return []
        whole = np.concatenate(self._waiting)
        used = len(whole) - len(whole) % CHUNK
        self._waiting = [whole[used:].copy()]
        self._waiting_count = len(whole) - used
        events: list[EndpointEvent] = []
        for start in range(0, used, CHUNK):
            events += self._take(whole[start : start + CHUNK])
        return events

    def finish(self) -> list[EndpointEvent]:
        """Say that the source has ended, and give what is left of it."""
        events: list[EndpointEvent] = []
        rest = np.concatenate([*self._waiting, np.zeros(0, np.int16)])
        self._waiting, self._waiting_count = [], 0
        if len(rest):
            events += self._take(rest)
        if self._speech is not None:
            events.append(self._end(Cause.SOURCE))
        return events

    def hold(self, silence_ms: float) -> bool:
        """Set how much silence ends the utterance that is pausing; False if none is.

        For a loop that decodes while it listens: short when the words make a whole command, longer
        when they lack something. It holds until speech goes on.
        """
        if self._speech is None or self._speech.pause is None:
            return False
        self._speech.enough_ms = silence_ms
        return True

    def skip(self, count: int) -> None:
        """Let that many samples of the source pass unheard, as while the voice speaks.

        An utterance in hand is forgotten; the room's level is not.
        """
        self._speech = None
        self._waiting, self._waiting_count = [], 0
        self._kept = []
        self._next += round(count / CHUNK)
        self._barrier = self._next
        self._voice.reset()

    def _take(self, samples: Samples) -> list[EndpointEvent]:
        self._kept.append(self._hear(samples))
        self._next += 1
        if self._speech is None:
            return self._wait()
        return self._follow(self._speech)

    def _hear(self, samples: Samples) -> _Heard:
        chunk = np.zeros(CHUNK, np.float32)  # the last chunk of a source may be short
        chunk[: len(samples)] = samples
        chunk /= 32768
        self._peaks[self._next % _GAIN_CHUNKS] = np.max(np.abs(chunk))
        gain = min(_LOUDEST_GAIN, max(1.0, _GAIN_PEAK / max(float(self._peaks.max()), 1e-6)))
        levels = self._room.follow(chunk)
        self.level_db = total_db(levels)
        heard = _Heard(samples, self._voice(chunk * np.float32(gain)), self._excess(levels), self.level_db)
        self._hush = 0 if heard.still else self._hush + 1
        self._gate_db -= _FORGIVE_DB
        if self._hush * CHUNK_MS >= self.timing.end_ms:
            self._gate_db = -math.inf
        return heard

    def _excess(self, levels: NDArray[np.float64]) -> float:
        return float(np.max(levels - self._room.floor_db))

    def _chunk(self, number: int) -> _Heard:
        return self._kept[number - self._next]

    def _wait(self) -> list[EndpointEvent]:
        recent = self._kept[-_START_OF:]
        counts = [heard.sure and heard.level_db >= self._gate_db for heard in recent]
        if not counts[-1] or sum(counts) < _START_CHUNKS:
            spare = len(self._kept) - self._chunks(self.timing.reach_ms + self.timing.before_ms) - _START_OF
            if spare > 0:
                del self._kept[:spare]
            return []
        first = self._next - len(recent) + counts.index(True)
        onset = self._soft_beginning(max(first, self._barrier))
        return [self._begin(onset, max(onset - self._chunks(self.timing.before_ms), self._oldest()))]

    def _begin(self, onset: int, kept_from: int) -> SpeechStarted:
        now = self._next - 1
        levels = [self._chunk(n).level_db for n in range(onset, self._next) if self._chunk(n).still]
        self._speech = _Speech(kept_from, onset, now, now, levels_db=levels)
        return SpeechStarted(onset * CHUNK / SAMPLERATE_HZ)

    def _oldest(self) -> int:
        return max(self._barrier, self._next - len(self._kept))

    def _soft_beginning(self, first: int) -> int:
        """Go back from the first certain chunk over those that are soft speech."""
        earliest = max(first - self._chunks(self.timing.reach_ms), self._oldest())
        onset = first
        for number in range(first - 1, earliest - 1, -1):
            if self._chunk(number).soft:
                onset = number
            elif onset - number >= _SOFT_GAP:
                break
        return onset

    def _follow(self, speech: _Speech) -> list[EndpointEvent]:
        now, heard = self._next - 1, self._kept[-1]
        events: list[EndpointEvent] = []
        if heard.still:
            speech.last_voice = now
            speech.levels_db.append(heard.level_db)
            if heard.level_db >= speech.loud_db() - _LULL_DB:
                speech.last_loud = now
        louder = self._louder_voice(speech)
        if louder is not None:
            return self._give_way(speech, louder)
        quiet_ms = max(speech.silence_ms(now), speech.lull_ms(now))
        if speech.pause is None and quiet_ms >= self.timing.pause_ms:
            speech.pause = self._cut(speech, self._next)
            speech.enough_ms = self._enough(speech.pause)
            events.append(Pause(speech.pause))
        elif speech.pause is not None and quiet_ms < self.timing.pause_ms:
            speech.pause = None
            events.append(Resumed(now * CHUNK / SAMPLERATE_HZ))
        if speech.pause is not None and quiet_ms >= speech.enough_ms:
            events.append(self._end(Cause.SILENCE))
        elif speech.pause is None and self._seconds(speech.kept_from) >= self.timing.longest_s:
            events += self._split(speech)
        return events

    def _louder_voice(self, speech: _Speech) -> int | None:
        """Give the chunk at which a much louder voice began, if one did."""
        if len(speech.levels_db) < _OVER_AFTER + _START_OF or not self._kept[-1].sure:
            return None
        over = speech.loud_db(_START_OF) + _OVER_DB
        louder = [heard.sure and heard.level_db >= over for heard in self._kept[-_START_OF:]]
        if sum(louder) < _START_CHUNKS:
            return None
        return self._next - _START_OF + louder.index(True)

    def _give_way(self, speech: _Speech, onset: int) -> list[EndpointEvent]:
        at = max(onset - self._chunks(self.timing.before_ms), speech.kept_from)
        ended = Ended(self._cut(speech, at), Cause.OVERTAKEN)
        self._barrier = at
        return [ended, self._begin(onset, at)]

    def _enough(self, so_far: Utterance) -> float:
        verdict = self._complete(so_far) if self._complete else None
        if verdict is None:
            return self.timing.end_ms
        return self.timing.complete_ms if verdict else self.timing.incomplete_ms

    def _cut(self, speech: _Speech, stop: int) -> Utterance:
        oldest = self._next - len(self._kept)
        pieces = [heard.samples for heard in self._kept[speech.kept_from - oldest : stop - oldest]]
        end = min(speech.last(self._next - 1) + 1, stop)
        return Utterance(
            samples=np.concatenate(pieces),
            start_s=speech.onset * CHUNK / SAMPLERATE_HZ,
            end_s=end * CHUNK / SAMPLERATE_HZ,
        )

    def _end(self, cause: Cause) -> Ended:
        speech, now = self._speech, self._next - 1
        assert speech is not None  # noqa: S101 - only called with one in hand
        utterance = speech.pause or self._cut(speech, self._next)
        self._barrier = speech.last(now) + 1
        self._speech = None
        if cause is Cause.SILENCE and speech.lull_ms(now) > speech.silence_ms(now):
            cause = Cause.LULL
            self._gate_db = speech.loud_db() - _LULL_DB
        return Ended(utterance, cause)

    def _split(self, speech: _Speech) -> list[EndpointEvent]:
        """Cut a long utterance where it is quietest, and go on with what is left of it."""
        reach = range(self._next - self._chunks(_SPLIT_BACK_S * 1000), self._next - _START_OF)
        at = min(reach, key=lambda number: (self._chunk(number).voice, self._chunk(number).excess_db))
        ended = Ended(self._cut(speech, at), Cause.LENGTH)
        self._barrier = at
        del self._kept[: at - (self._next - len(self._kept))]
        return [ended, self._begin(at, at)]

    def _seconds(self, since: int) -> float:
        return (self._next - since) * CHUNK / SAMPLERATE_HZ

    @staticmethod
    def _chunks(span_ms: float) -> int:
        return round(span_ms / CHUNK_MS)


def listen(
    frames: Iterable[Samples], timing: Timing | None = None, complete: Complete | None = None
) -> Iterator[Utterance]:
    """Yield the utterances of a stream of (n,) int16 pieces, 16 kHz mono, as they end."""
    endpointer = Endpointer(timing, complete)
    for piece in frames:
        yield from (event.utterance for event in endpointer.feed(piece) if isinstance(event, Ended))
    yield from (event.utterance for event in endpointer.finish() if isinstance(event, Ended))


def utterances(samples: Samples, timing: Timing | None = None) -> list[Utterance]:
    """Give the utterances of a whole recording: (n,) int16, 16 kHz mono."""
    return list(listen([samples], timing))
