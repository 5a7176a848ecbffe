"""Shop noise measured with tools from outside: Welch's spectrum, Schroeder's decay."""

from __future__ import annotations

import numpy as np
import pytest
from numpy.random import default_rng

from handsfree.recordings.noise import noise, room_response

pytestmark = pytest.mark.quick

RATE = 16_000


@pytest.mark.parametrize("seed", [1, 2, 3])
def test_pink_falls_three_decibels_an_octave_by_welch(seed: int) -> None:
    # pink noise: power density 1/f, hence 10*log10(2) = 3.01 dB an octave; the estimate is scipy's
    from scipy.signal import welch

    hz, density = welch(noise("pink", 60 * RATE, default_rng(seed)), RATE, nperseg=8192)
    band = (hz > 60) & (hz < 7000)
    slope = np.polyfit(np.log2(hz[band]), 10 * np.log10(density[band]), 1)[0]
    assert slope == pytest.approx(-10 * np.log10(2), abs=0.15)


def test_white_noise_is_told_from_pink_by_the_same_measure() -> None:
    from scipy.signal import welch

    hz, density = welch(default_rng(1).standard_normal(60 * RATE), RATE, nperseg=8192)
    band = (hz > 60) & (hz < 7000)
    assert abs(np.polyfit(np.log2(hz[band]), 10 * np.log10(density[band]), 1)[0]) < 0.15


@pytest.mark.parametrize("rt60_s", [0.3, 0.45, 0.6])
def test_reverberation_time_by_backward_integration(rt60_s: float) -> None:
    # ISO 3382 (from memory): T20 is three times the time from -5 to -25 dB of the backward-integrated
    # squared impulse response (Schroeder 1965)
    times = []
    for seed in range(8):
        tail = room_response(default_rng(seed), rt60_s)[int(0.04 * RATE) :]
        decay = 10 * np.log10(np.cumsum(tail[::-1] ** 2)[::-1] / np.sum(tail**2))
        times.append(3 * (np.argmax(decay < -25) - np.argmax(decay < -5)) / RATE)
    assert np.mean(times) == pytest.approx(rt60_s, rel=0.07)
