"""The level of speech, and mixing speech with noise at a given ratio. Pure."""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray

from handsfree.hear import SAMPLERATE_HZ, Samples

Signal = NDArray[np.float64]

_SMOOTHING_S = 0.03
_HANGOVER_S = 0.2
_MARGIN_DB = 15.9
_STEP_DB = 1.0
_SILENT_DB = -100.0
_BLOCK = 256


def to_sound(samples: Samples) -> Signal:
    """Return int16 samples as (n,) float64, full scale 1."""
    return samples.astype(np.float64) / 32768.0


def to_samples(sound: Signal) -> Samples:
    """Return float sound as (n,) int16, clipped at full scale."""
    return np.clip(np.rint(sound * 32768.0), -32768, 32767).astype(np.int16)


def level_db(sound: Signal) -> float:
    """Return the root mean square level, dB to full scale: a full-scale square wave is 0."""
    power = float(np.mean(sound**2)) if sound.size else 0.0
    return 10 * np.log10(power) if power > 10 ** (_SILENT_DB / 10) else _SILENT_DB


def active_level_db(sound: Signal, samplerate_hz: int = SAMPLERATE_HZ) -> float:
    """Return the active level of speech, without pauses, dB to full scale.

    It is like method B of ITU-T P.56 (from memory), not a certified meter: an envelope smoothed twice
    over 0.03 s, a hangover of 0.2 s, and the level at which the speech lies 15.9 dB above the threshold
    that decides what is speech. Silence gives -100.
    """
    if not sound.size or level_db(sound) <= _SILENT_DB:
        return _SILENT_DB
    envelope = _smoothed(np.abs(sound), samplerate_hz)
    energy = float(np.sum(sound**2))
    hangover = round(_HANGOVER_S * samplerate_hz)
    top_db = 20 * np.log10(float(envelope.max()))
    previous: tuple[float, float] | None = None
    for threshold_db in np.arange(top_db - _STEP_DB, _SILENT_DB, -_STEP_DB):
        active = _held(envelope >= 10 ** (threshold_db / 20), hangover)
        level = 10 * np.log10(energy / active)
        over = level - threshold_db - _MARGIN_DB
        if over >= 0:  # the margin was crossed between the last two thresholds: interpolate
            if previous is None:
                return float(level)
            share = previous[1] / (previous[1] - over)
            return float(previous[0] + share * (level - previous[0]))
        previous = (float(level), float(over))
    return level_db(sound)


def _smoothed(rectified: Signal, samplerate_hz: int) -> Signal:
    keep = math.exp(-1 / (_SMOOTHING_S * samplerate_hz))
    return _decayed(_decayed(rectified, keep), keep)


def _decayed(sound: Signal, keep: float) -> Signal:
    """Return y with y[n] = keep * y[n - 1] + (1 - keep) * x[n], from silence, a block at a time."""
    count = -(-len(sound) // _BLOCK)
    blocks = np.zeros((count, _BLOCK))
    blocks.reshape(-1)[: len(sound)] = sound
    powers = keep ** np.arange(_BLOCK + 1)
    steps = np.subtract.outer(np.arange(_BLOCK), np.arange(_BLOCK))
    within = blocks @ np.where(steps >= 0, (1 - keep) * powers[np.abs(steps)], 0.0).T
    carried, last = np.zeros(count), 0.0
    for number, end in enumerate(within[:, -1]):
        carried[number] = last
        last = end + powers[-1] * last
    return np.asarray((within + np.outer(carried, powers[1:])).reshape(-1)[: len(sound)], np.float64)


def _held(above: NDArray[np.bool_], hangover: int) -> int:
    """Return the number of samples that are above, or at most `hangover` after one that is."""
    where = np.flatnonzero(above)
    gaps = np.diff(where, append=len(above))
    return int(np.minimum(gaps, hangover + 1).sum())


def mix(speech: Samples, noise: Signal, snr_db: float) -> Samples:
    """Return `speech` plus `noise`, with an active level of speech `snr_db` above the noise's level.

    Args:
        speech: (n,) int16, 16 kHz mono.
        noise: (n,) float, any level.
        snr_db: active speech level minus the noise's root mean square level, dB.

    Returns:
        (n,) int16. A sum beyond full scale is turned down as a whole, so nothing is clipped.
    """
    clean = to_sound(speech)
    gain_db = active_level_db(clean) - snr_db - level_db(noise)
    sound = clean + noise * 10 ** (gain_db / 20)
    peak = float(np.abs(sound).max()) if sound.size else 0.0
    return to_samples(sound / peak * 0.99 if peak > 0.99 else sound)
