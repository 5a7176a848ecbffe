"""Endpointing: finds the beginning and end of speech in a stream of sound from any source."""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator

import numpy as np

from handsfree.hear.background import SILENCE_DB, Background, BackgroundTalk, Restlessness, total_db
from handsfree.hear.heard import SAMPLERATE_HZ, Samples, Utterance
from handsfree.hear.speech_in_hand import (
    CHUNK_MS,
    LULL_DB,
    STILL,
    Cause,
    Complete,
    Ended,
    EndpointEvent,
    HeardChunk,
    Pause,
    Resumed,
    SpeechInHand,
    SpeechStarted,
    Timing,
)
from handsfree.hear.vad import CHUNK, VoiceActivity

__all__ = [
    "Cause",
    "Complete",
    "Ended",
    "EndpointEvent",
    "Endpointer",
    "Pause",
    "Resumed",
    "SpeechStarted",
    "Timing",
    "listen",
    "utterances",
]

_START_CHUNKS, _START_OF = 4, 6  # four of six chunks: 128 ms of voice; a click is shorter
_SOFT_GAP = 3  # chunks of silence within a soft beginning, as before the t of "top"
_LOUDEST_GAIN = 32.0
_GAIN_PEAK = 0.25
_GAIN_CHUNKS = 160  # the gain follows the loudest of the last 5 s
_SPLIT_BACK_S = 5.0
_CALM_CHUNKS = 31  # 1 s
_OVER_DB = 10.0  # a voice louder by this than all before it is another voice
_OVER_AFTER = 31  # chunks: after 1 s of the quieter voice
_FORGIVE_DB = 1.0 * CHUNK_MS / 1000  # the gate against the quieter voice falls by 1 dB a second


class Endpointer:
    """Finds the beginning and end of speech in one source, fed in pieces of any size."""

    def __init__(self, timing: Timing | None = None, complete: Complete | None = None) -> None:
        """Start a source. `complete`, if given, is called at each `Pause` for the silence to wait."""
        self.timing = timing or Timing()
        self._complete = complete
        self._voice = VoiceActivity()
        self._room = Background(CHUNK)
        self._talk = BackgroundTalk()
        self._restless = Restlessness()
        self._peaks = np.zeros(_GAIN_CHUNKS, np.float32)
        self._waiting: Samples = np.zeros(0, np.int16)  # less than a chunk
        self._kept: list[HeardChunk] = []
        self._next = 0  # number of the next chunk
        self._skipped = 0  # samples that were skipped and don't make a chunk yet
        self._barrier = 0  # no utterance reaches back beyond this chunk, the end of the last one
        self._speech: SpeechInHand | None = None
        self._gate_db = -math.inf  # quieter voices are background
        self._hush = 0  # chunks since the last voice of any loudness
        self.level_db = SILENCE_DB
        """Level of the last 32 ms, dB below full scale."""

    @property
    def floor_db(self) -> float:
        """Level of the room without speech, dB below full scale."""
        return total_db(self._room.floor_db)

    @property
    def speaking(self) -> bool:
        """Whether an utterance is in hand."""
        return self._speech is not None

    @property
    def calm(self) -> bool:
        """Whether there has been no voice, near or far, for a second."""
        return self._speech is None and self._hush >= _CALM_CHUNKS

    @property
    def time_s(self) -> float:
        """Seconds of the source processed so far."""
        return self._next * CHUNK / SAMPLERATE_HZ

    def feed(self, samples: Samples) -> list[EndpointEvent]:
        """Process the next piece of sound and return its events.

        samples: (n,) int16, 16 kHz mono, any n.
        """
        if samples.dtype != np.int16 or samples.ndim != 1:
            raise ValueError(f"wanted (n,) int16, found {samples.shape} {samples.dtype}")
        events: list[EndpointEvent] = []
        start = -len(self._waiting)  # the rest of the last piece comes first
        while start + CHUNK <= len(samples):
            chunk = np.concatenate([self._waiting, samples[max(start, 0) : start + CHUNK]])
            self._waiting = self._waiting[:0]
            events += self._take(chunk)
            start += CHUNK
        self._waiting = np.concatenate([self._waiting, samples[max(start, 0) :]])
        return events

    def finish(self) -> list[EndpointEvent]:
        """End the source and return its last events; nothing may be fed afterwards."""
        events: list[EndpointEvent] = []
        rest, self._waiting = self._waiting, self._waiting[:0]
        if len(rest):
            events += self._take(rest)
        if self._speech is not None:
            events.append(self._end(Cause.SOURCE))
        return events

    def hold(self, silence_ms: float) -> Ended | None:
        """Set the silence that ends the pausing utterance; without one do nothing.

        For a loop that decodes while it listens: short when the words are a complete command, longer when
        something is missing. It is valid until speech resumes. Returns the utterance if the silence has
        already been that long, so that the loop needn't wait for the next piece of sound.
        """
        speech = self._speech
        if speech is None or speech.pause is None:
            return None
        speech.enough_ms = silence_ms
        return self._end(Cause.SILENCE) if self._quiet_ms(speech) >= silence_ms else None

    def skip(self, count: int) -> None:
        """Skip samples of the source unheard, for instance while the program speaks.

        An utterance in progress is dropped; the room's level is kept.
        """
        chunks, self._skipped = divmod(self._skipped + len(self._waiting) + count, CHUNK)
        self._speech = None
        self._waiting = self._waiting[:0]
        self._kept = []
        self._next += chunks
        self._barrier = self._next
        self._voice.reset()

    def _take(self, samples: Samples) -> list[EndpointEvent]:
        self._kept.append(self._hear(samples))
        self._next += 1
        if self._speech is None:
            return self._wait()
        return self._follow(self._speech)

    def _hear(self, samples: Samples) -> HeardChunk:
        chunk = np.zeros(CHUNK, np.float32)  # the last chunk of a source may be short
        chunk[: len(samples)] = samples
        chunk /= 32768
        self._peaks[self._next % _GAIN_CHUNKS] = np.max(np.abs(chunk))
        gain = min(_LOUDEST_GAIN, max(1.0, _GAIN_PEAK / max(float(self._peaks.max()), 1e-6)))
        levels = self._room.follow(chunk)
        self.level_db = total_db(levels)
        excess_db = float(np.max(levels - self._room.floor_db))
        voice = self._voice(chunk * np.float32(gain))
        voiced = voice >= STILL
        covered = self._talk.covers(self.level_db, voiced)
        restless_db = self._restless.excess_db
        heard = HeardChunk(samples, voice, excess_db, self.level_db, covered, restless_db)
        if self._speech is None and not voiced:
            self._restless.follow(excess_db)
        self._hush = 0 if heard.still else self._hush + 1
        self._gate_db -= _FORGIVE_DB
        if self._hush * CHUNK_MS >= self.timing.end_ms:
            self._gate_db = -math.inf
        return heard

    def _chunk(self, number: int) -> HeardChunk:
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
        self._speech = SpeechInHand(kept_from, onset, now, now, levels_db=levels)
        return SpeechStarted(onset * CHUNK / SAMPLERATE_HZ)

    def _oldest(self) -> int:
        return max(self._barrier, self._next - len(self._kept))

    def _soft_beginning(self, first: int) -> int:
        """Return the first chunk of the soft speech that leads up to the first certain chunk."""
        earliest = max(first - self._chunks(self.timing.reach_ms), self._oldest())
        onset = first
        for number in range(first - 1, earliest - 1, -1):
            if self._chunk(number).soft:
                onset = number
            elif onset - number >= _SOFT_GAP:
                break
        return onset

    def _follow(self, speech: SpeechInHand) -> list[EndpointEvent]:
        now, heard = self._next - 1, self._kept[-1]
        events: list[EndpointEvent] = []
        if heard.still and not speech.hushed(heard):
            speech.last_voice = now
            speech.levels_db.append(heard.level_db)
            if heard.level_db >= speech.loud_db() - LULL_DB and not heard.covered:
                speech.last_loud = now
        louder = self._louder_voice(speech)
        if louder is not None:
            return self._give_way(speech, louder)
        quiet_ms = self._quiet_ms(speech)
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

    def _quiet_ms(self, speech: SpeechInHand) -> float:
        now = self._next - 1
        return max(speech.silence_ms(now), speech.lull_ms(now))

    def _louder_voice(self, speech: SpeechInHand) -> int | None:
        """Return the chunk at which a much louder voice began, or None."""
        if len(speech.levels_db) < _OVER_AFTER + _START_OF or not self._kept[-1].sure:
            return None
        over = speech.loud_db(_START_OF) + _OVER_DB
        louder = [heard.sure and heard.level_db >= over for heard in self._kept[-_START_OF:]]
        if sum(louder) < _START_CHUNKS:
            return None
        return self._next - _START_OF + louder.index(True)

    def _give_way(self, speech: SpeechInHand, onset: int) -> list[EndpointEvent]:
        at = max(onset - self._chunks(self.timing.before_ms), speech.kept_from)
        ended = Ended(self._cut(speech, at), Cause.OVERTAKEN)
        self._barrier = at
        return [ended, self._begin(onset, at)]

    def _enough(self, so_far: Utterance) -> float:
        verdict = self._complete(so_far) if self._complete else None
        if verdict is None:
            return self.timing.end_ms
        return self.timing.complete_ms if verdict else self.timing.incomplete_ms

    def _cut(self, speech: SpeechInHand, stop: int) -> Utterance:
        oldest = self._next - len(self._kept)
        pieces = [heard.samples for heard in self._kept[speech.kept_from - oldest : stop - oldest]]
        samples = np.concatenate(pieces)
        end = min(speech.last(self._next - 1) + 1, stop) * CHUNK
        return Utterance(
            samples=samples,
            start_s=speech.onset * CHUNK / SAMPLERATE_HZ,
            end_s=min(end, speech.kept_from * CHUNK + len(samples)) / SAMPLERATE_HZ,
        )

    def _end(self, cause: Cause) -> Ended:
        speech, now = self._speech, self._next - 1
        assert speech is not None  # noqa: S101 - only called with one in hand
        utterance = speech.pause or self._cut(speech, self._next)
        self._barrier = speech.last(now) + 1
        self._speech = None
        if cause is Cause.SILENCE and speech.lull_ms(now) > speech.silence_ms(now):
            cause = Cause.LULL
            self._gate_db = speech.loud_db() - LULL_DB
        return Ended(utterance, cause)

    def _split(self, speech: SpeechInHand) -> list[EndpointEvent]:
        """Split a long utterance at its quietest point, and continue with the rest."""
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
    """Return the utterances of a whole recording: (n,) int16, 16 kHz mono."""
    return list(listen([samples], timing))
