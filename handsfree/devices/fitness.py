"""Fitness of a microphone in its place, measured from a silence and a phrase."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum

import numpy as np

from handsfree.hear import SAMPLERATE_HZ, Samples

# Common practice, no source: ratios that recognisers and people manage without trouble, and with some.
GOOD_SNR_DB, FAIR_SNR_DB = 20.0, 10.0
QUIET_DB = -42.0
CLIPPED_SHARE = 0.001
_CLIP = 32_700
_FRAME = SAMPLERATE_HZ // 50  # 20 ms

PLACE = (
    "Hang it two hands' widths from your mouth and a little to the side, out of your breath, with its "
    "back to the grinder and the air line."
)


class Fitness(StrEnum):
    """Fitness of a microphone."""

    GOOD = "good"
    FAIR = "fair"
    POOR = "poor"


@dataclass(frozen=True, slots=True)
class MicrophoneReport:
    """Measured levels in dB below full scale, and their meaning.

    floor_db: the room's median level. speech_db: level of the loud half of the phrase.
    clipped: share of the phrase's samples at full scale.
    """

    floor_db: float
    speech_db: float
    peak_db: float
    clipped: float

    @property
    def snr_db(self) -> float:
        """Signal-to-noise ratio: level of speech over the room, dB."""
        return self.speech_db - self.floor_db

    @property
    def fitness(self) -> Fitness:
        """Good, fair or poor."""
        if self.snr_db < FAIR_SNR_DB or self.speech_db < QUIET_DB - 12:
            return Fitness.POOR
        if self.snr_db < GOOD_SNR_DB or self.clipped > CLIPPED_SHARE or self.speech_db < QUIET_DB:
            return Fitness.FAIR
        return Fitness.GOOD

    @property
    def advice(self) -> tuple[str, ...]:
        """Advice, the most useful first; empty if nothing needs to be done."""
        found = []
        if self.clipped > CLIPPED_SHARE:
            found.append("It is driven too hard: turn its gain down, or move it away a little.")
        if self.speech_db < QUIET_DB:
            found.append("It hears you faintly: turn its gain up, or bring it closer.")
        if self.snr_db < GOOD_SNR_DB:
            found.append(f"The room is loud beside your voice. {PLACE}")
        return tuple(found)


def measure(room: Samples, phrase: Samples) -> MicrophoneReport:
    """Return the measurement of a microphone.

    room: (n,) int16 at 16 kHz, without speech. phrase: the same with speech.
    """
    levels = _levels_db(phrase)
    whole = phrase.astype(np.int32)
    peak = int(np.abs(whole).max()) if len(whole) else 0
    return MicrophoneReport(
        floor_db=float(np.median(_levels_db(room))),
        speech_db=float(np.median(np.sort(levels)[len(levels) // 2 :])),
        peak_db=_db(float(peak)),
        clipped=float(np.mean(np.abs(whole) >= _CLIP)) if len(whole) else 0.0,
    )


def _levels_db(samples: Samples) -> np.ndarray:
    count = max(1, len(samples) // _FRAME)
    frames = np.zeros(count * _FRAME)
    used = samples[: count * _FRAME]
    frames[: len(used)] = used
    rms = np.sqrt(np.mean(frames.reshape(count, _FRAME) ** 2, axis=1))
    return np.asarray([_db(float(each)) for each in rms])


def _db(amplitude: float) -> float:
    return float(20 * np.log10(max(amplitude, 0.5) / 32_768))
