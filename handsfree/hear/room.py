"""Rooms and poor microphones: reverberation, clipping, narrow bands. Pure."""

from __future__ import annotations

import numpy as np
from numpy.random import Generator

from handsfree.hear.heard import SAMPLERATE_HZ
from handsfree.hear.level import Sound


def room_response(rng: Generator, rt60_s: float, direct_to_reverberant_db: float = 0.0) -> Sound:
    """Give the impulse response of a made-up room.

    Args:
        rng: places the reflections.
        rt60_s: seconds in which sound falls by 60 dB, as reverberation time is defined in ISO 3382.
        direct_to_reverberant_db: energy of the direct sound over that of all that follows: about 0 at
            a metre or two from the speaker in a workshop (common practice, no source).

    Returns:
        (m,) float64 at 16 kHz that begins with the direct sound, amplitude 1.
    """
    length = round(1.2 * rt60_s * SAMPLERATE_HZ)
    time = np.arange(length) / SAMPLERATE_HZ
    tail = rng.standard_normal(length) * 10 ** (-3 * time / rt60_s)
    tail[: round(0.003 * SAMPLERATE_HZ)] = 0  # nothing comes back sooner than from a metre away
    for _ in range(6):
        at = int(rng.uniform(0.003, 0.03) * SAMPLERATE_HZ)
        tail[at] += rng.choice([-1, 1]) * rng.uniform(1, 3)
    tail *= 10 ** (-direct_to_reverberant_db / 20) / np.sqrt(np.sum(tail**2))
    tail[0] = 1.0
    return tail


def reverberate(speech: Sound, rng: Generator, rt60_s: float, direct_to_reverberant_db: float = 0.0) -> Sound:
    """Give speech as heard in a room: (n,) in and out, the tail beyond the end cut off, the level kept."""
    response = room_response(rng, rt60_s, direct_to_reverberant_db)
    size = 1 << (len(speech) + len(response)).bit_length()
    wet = np.fft.irfft(np.fft.rfft(speech, size) * np.fft.rfft(response, size), size)[: len(speech)]
    before, after = float(np.sum(speech**2)), float(np.sum(wet**2))
    wet *= np.sqrt(before / after) if after > 0 else 1.0
    peak = float(np.abs(wet).max()) if wet.size else 0.0
    return wet / peak * 0.99 if peak > 0.99 else wet


def clip(sound: Sound, above_db: float) -> Sound:
    """Cut off all that lies more than `above_db` below the peak, as an overdriven microphone does."""
    limit = (float(np.abs(sound).max()) if sound.size else 0.0) * 10 ** (-above_db / 20)
    return np.clip(sound, -limit, limit)


def band_limit(sound: Sound, low_hz: float, high_hz: float) -> Sound:
    """Keep only the band between two frequencies, as a telephone or a cheap microphone does."""
    from scipy.signal import butter, sosfilt  # here, because scipy costs time to import

    sections = butter(4, [low_hz, high_hz], btype="bandpass", fs=SAMPLERATE_HZ, output="sos")
    return np.asarray(sosfilt(sections, sound), np.float64)
