"""How loud the room is by itself, so that a voice can be told from it by its level."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from handsfree.hear.heard import SAMPLERATE_HZ

BANDS_HZ = ((150, 700), (700, 2000), (2000, 4000), (4000, 7800))
"""Vowels, their second formants, and where consonants such as s, f and t have their energy."""

SILENCE_DB = -100.0
"""What digital silence counts as, in dB below full scale."""

_WINDOW = 256  # chunks remembered: about 8 s, so that a sentence can't pass for the room
_QUIETEST = 0.2  # the room is what the quietest fifth of the time stays below
_EVERY = 8  # chunks between two sortings


class Background:
    """Follows the levels of a stream and the floor below them, band by band."""

    def __init__(self, chunk: int) -> None:
        """Make one for chunks of that many samples at 16 kHz."""
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
        """Take the next chunk and give its level in each band.

        chunk: (n,) float32 in -1..1. Gives (4,) dB below full scale.
        """
        power = np.abs(np.fft.rfft(chunk * self._window)) ** 2
        sums = np.array([power[part].sum() for part in self._slices], np.float64) * self._scale
        levels: NDArray[np.float64] = 10 * np.log10(np.maximum(sums, 10 ** (SILENCE_DB / 10)))
        self._recent[self._count % _WINDOW] = levels
        self._count += 1
        if self._count < _WINDOW // 4 or self._count % _EVERY == 0:
            seen = self._recent[: min(self._count, _WINDOW)]
            rank = int(_QUIETEST * (len(seen) - 1))
            self.floor_db = np.partition(seen, rank, axis=0)[rank]
        return levels


def total_db(levels: NDArray[np.float64]) -> float:
    """Add levels in dB as powers.

    >>> round(total_db(np.array([-20.0, -20.0])), 1)
    -17.0
    """
    return float(10 * np.log10(np.sum(10 ** (levels / 10))))
