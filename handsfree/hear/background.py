"""The level of the room without the speaker, to tell the speaker's voice from it by loudness."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from handsfree.hear.heard import SAMPLERATE_HZ

BANDS_HZ = ((150, 700), (700, 2000), (2000, 4000), (4000, 7800))
"""Vowels, their second formants, and where consonants such as s, f and t have their energy."""

SILENCE_DB = -100.0
"""Level of digital silence, in dB below full scale."""

_WINDOW = 256  # chunks in memory: about 8 s, so that a sentence isn't taken for the room
_QUIETEST = 0.2  # the room's level is the 20 % quantile
_EVERY = 8  # chunks between two sortings

_RESTLESS = 128  # chunks: 4 s
_RARELY = 0.9

_SMOOTHED = 6  # chunks: about a syllable
_ENOUGH = 125  # chunks: 4 s, before which the first voice may well be the speaker's
_LOW = 0.3  # the quietest share of the time, which isn't the speaker's, since the speaker pauses
_TALK_SHARE = 0.5  # of that time is voice; in steady noise the detector is rarely wrong
_TALK_OVER_DB = 8.0  # difference between the quieter and the louder parts of talk


class Background:
    """Tracks the level of a stream and its noise floor in each band."""

    def __init__(self, chunk: int) -> None:
        """Start with no history, for chunks of `chunk` samples at 16 kHz."""
        frequencies = np.fft.rfftfreq(chunk, 1 / SAMPLERATE_HZ)
        self._slices = [
            slice(int(np.searchsorted(frequencies, low)), int(np.searchsorted(frequencies, high)))
            for low, high in BANDS_HZ
        ]
        self._window = np.hanning(chunk).astype(np.float32)
        self._scale = 2.0 / (chunk * float(np.sum(self._window**2)))
        self._recent = np.full((_WINDOW, len(BANDS_HZ)), SILENCE_DB, np.float64)
        self._count = 0
        self.floor_db: NDArray[np.float64] = np.full(len(BANDS_HZ), SILENCE_DB)
        """(4,) level of the room in each band, dB below full scale."""

    def follow(self, chunk: NDArray[np.float32]) -> NDArray[np.float64]:
        """Process the next chunk and return its level in each band.

        chunk: (n,) float32 in -1..1. Returns (4,) dB below full scale.
        """
        power = np.abs(np.fft.rfft(chunk * self._window)) ** 2
        sums = np.array([power[part].sum() for part in self._slices], np.float64) * self._scale
        levels: NDArray[np.float64] = 10 * np.log10(np.maximum(sums, 10 ** (SILENCE_DB / 10)))
        self._recent[self._count % _WINDOW] = levels
        self._count += 1
        if self._count < _WINDOW // 4 or self._count % _EVERY == 0:
            seen = self._recent[: min(self._count, _WINDOW)]
            self.floor_db = _quantile(seen, _QUIETEST)
        return levels


class Restlessness:
    """Tracks the peaks of a room's own sound over its level, such as strokes of a compressor."""

    def __init__(self) -> None:
        """Start with no history."""
        self._excess = np.zeros(_RESTLESS)
        self._count = 0
        self.excess_db = 0.0
        """90 % quantile of the chunks without a voice, over the room's level, dB."""

    def follow(self, excess_db: float) -> None:
        """Process a chunk without speech: its level over the room's, in the loudest band."""
        self._excess[self._count % _RESTLESS] = excess_db
        self._count += 1
        if self._count >= _RESTLESS // 4 and self._count % _EVERY == 0:
            self.excess_db = float(_quantile(self._excess[: min(self._count, _RESTLESS)], _RARELY))


class BackgroundTalk:
    """Tracks the level of continuous talk in the background.

    A radio or people talking keep a voice detector at "speech"; the person at the bench differs from them
    only by being louder. Their level is estimated from the quieter part of the last 8 s, while the detector
    takes that for voice too. For the first 4 s it is unknown.
    """

    def __init__(self) -> None:
        """Start with no history, for chunks of 32 ms."""
        self._powers = np.zeros(_SMOOTHED)  # of the newest chunks, to smooth the jumping level of talk
        self._levels = np.full(_WINDOW, SILENCE_DB)
        self._voiced = np.zeros(_WINDOW, np.bool_)
        self._count = 0
        self._limit_db = -np.inf

    def covers(self, level_db: float, voiced: bool) -> bool:
        """Process the next chunk; return whether it is no louder than the background talk.

        level_db: of the chunk, dB below full scale. voiced: whether the detector takes it for speech.
        """
        self._powers[self._count % _SMOOTHED] = 10 ** (level_db / 10)
        self._levels[self._count % _WINDOW] = level_db
        self._voiced[self._count % _WINDOW] = voiced
        self._count += 1
        if self._count >= _ENOUGH and self._count % _EVERY == 0:
            self._limit_db = self._limit()
        smoothed_db = 10 * np.log10(self._powers[: self._count].mean())
        return bool(smoothed_db < self._limit_db)

    def _limit(self) -> float:
        levels, voiced = self._levels[: self._count], self._voiced[: self._count]
        low_db = float(_quantile(levels, _QUIETEST))
        low = levels <= _quantile(levels, _LOW)
        return low_db + _TALK_OVER_DB if voiced[low].mean() >= _TALK_SHARE else -np.inf


def _quantile(levels: NDArray[np.float64], share: float) -> NDArray[np.float64]:
    """Return the quantile `share` over the rows, for each column: (n, ...) to (...)."""
    rank = int(share * (len(levels) - 1))
    found: NDArray[np.float64] = np.partition(levels, rank, axis=0)[rank]
    return found


def total_db(levels: NDArray[np.float64]) -> float:
    """Return the sum of levels in dB, added as powers.

    >>> round(total_db(np.array([-20.0, -20.0])), 1)
    -17.0
    """
    return float(10 * np.log10(np.sum(10 ** (levels / 10))))
