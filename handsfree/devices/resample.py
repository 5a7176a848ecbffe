"""Resamples from any device's rate to 16 kHz with very little delay.

A general resampler needs look-ahead for its accuracy: soxr's medium quality delays by 23 ms at 48 kHz
(measured), which a person waits for at every answer. This one is a plain polyphase filter: it delays by half
its length, 1.7 ms at 48 kHz, for 70 dB of rejection.
Source: windowed-sinc design with Kaiser's window, as in any textbook on signal processing (from memory).
"""

from __future__ import annotations

from math import gcd

import numpy as np
from numpy.typing import NDArray

from handsfree.hear import SAMPLERATE_HZ, Samples

_ATTENUATION_DB = 70.0
_PASSED_HZ, _STOPPED_HZ = 7_000.0, 8_600.0  # speech above 7 kHz is breath; aliases stay above 7.4 kHz
_BETA = 0.1102 * (_ATTENUATION_DB - 8.7)  # Kaiser's own fit for more than 50 dB


class Resampler:
    """Converts a stream of (n,) int16 pieces at `samplerate_hz` to (m,) int16 pieces at 16 kHz."""

    def __init__(self, samplerate_hz: int) -> None:
        if samplerate_hz < 1:
            raise ValueError(f"wanted a sample rate in Hz, found {samplerate_hz}")
        common = gcd(samplerate_hz, SAMPLERATE_HZ)
        self._up, self._down = SAMPLERATE_HZ // common, samplerate_hz // common
        self._taps: NDArray[np.float32] = _bank(samplerate_hz, self._up)
        self._past = np.zeros(self._taps.shape[1] - 1, dtype=np.float32)
        self._due = 0  # time of the next output, in input samples times `up`, from the next piece's start

    @property
    def delay_s(self) -> float:
        """Delay of the output, in seconds."""
        return float((self._taps.shape[1] - 1) / 2 * self._up / self._down / SAMPLERATE_HZ)

    def __call__(self, samples: Samples) -> Samples:
        """Return the next piece converted; leftover samples wait for the piece after."""
        if self._up == self._down or not len(samples):
            return samples
        window = self._taps.shape[1]
        held = np.concatenate([self._past, samples.astype(np.float32)])
        count = max(0, -(-(len(samples) * self._up - self._due) // self._down))
        windows = np.lib.stride_tricks.sliding_window_view(held, window)
        if self._up == 1:  # 48 kHz and the like: one filter, and no copy of every window
            due = windows[self._due : self._due + self._down * count : self._down]
            values = np.einsum("ij,j->i", due, self._taps[0])
        else:
            times = self._due + self._down * np.arange(count)
            at, phase = times // self._up, times % self._up
            values = np.einsum("ij,ij->i", windows[at], self._taps[phase])
        self._due += self._down * count - len(samples) * self._up
        self._past = held[len(held) - (window - 1) :]
        return np.asarray(np.clip(np.round(values), -32_768, 32_767), dtype=np.int16)


def _bank(samplerate_hz: int, up: int) -> NDArray[np.float32]:
    """Return the filters, one for each phase: (up, taps) float32, newest sample last."""
    nyquist = min(1.0, samplerate_hz / SAMPLERATE_HZ)  # a slower device has a narrower band
    passed, stopped = _PASSED_HZ * nyquist, _STOPPED_HZ * nyquist
    width = 2 * np.pi * (stopped - passed) / samplerate_hz
    taps = int(np.ceil((_ATTENUATION_DB - 7.95) / (2.285 * width))) | 1
    # position of tap k of phase p, in input samples from the middle of the filter
    positions = np.arange(taps)[None, :] - (taps - 1) / 2 - np.arange(up)[:, None] / up
    cutoff = (passed + stopped) / samplerate_hz
    inside = np.clip(1 - (2 * positions / (taps + 1)) ** 2, 0, None)
    bank = cutoff * np.sinc(cutoff * positions) * np.i0(_BETA * np.sqrt(inside)) / np.i0(_BETA)
    return np.asarray(bank / bank.sum(axis=1, keepdims=True), dtype=np.float32)
