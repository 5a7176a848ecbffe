"""Sound as plain samples with their rate, and saving it."""

from __future__ import annotations

import io
import wave
from pathlib import Path
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from handsfree.errors import SoundError
from handsfree.files import write_whole

Samples = NDArray[np.int16]

FULL_SCALE = 32_767
"""The largest int16 sample; amplitudes below are fractions of it."""


class Sound(NamedTuple):
    """Samples, (n,) int16 mono, and their rate in Hz."""

    samples: Samples
    samplerate_hz: int

    @property
    def duration_s(self) -> float:
        """How long it lasts, in seconds."""
        return len(self.samples) / self.samplerate_hz


def silence(duration_s: float, samplerate_hz: int) -> Samples:
    """Return (n,) int16 zeros."""
    return np.zeros(round(duration_s * samplerate_hz), dtype=np.int16)


def trimmed(sound: Sound, *, lead_s: float = 0.005, tail_s: float = 0.03, floor: float = 0.004) -> Sound:
    """Trim the silence before and after speech, so that an answer starts at once.

    Args:
        sound: the sound to trim.
        lead_s: silence left before the first loud sample, in seconds.
        tail_s: silence left after the last one.
        floor: fraction of full scale below which a sample counts as silence.
    """
    loud = np.flatnonzero(np.abs(sound.samples.astype(np.int32)) > floor * FULL_SCALE)
    if not len(loud):
        return Sound(sound.samples[:0], sound.samplerate_hz)
    first = max(0, int(loud[0]) - round(lead_s * sound.samplerate_hz))
    last = int(loud[-1]) + 1 + round(tail_s * sound.samplerate_hz)
    return Sound(sound.samples[first:last], sound.samplerate_hz)


def levelled(sound: Sound, peak: float) -> Sound:
    """Scale so that the loudest sample is `peak` of full scale; silence stays silence."""
    if not len(sound.samples):
        return sound
    highest = int(np.abs(sound.samples.astype(np.int32)).max())
    if not highest:
        return sound
    scaled = sound.samples.astype(np.float32) * (peak * FULL_SCALE / highest)
    return Sound(np.round(scaled).astype(np.int16), sound.samplerate_hz)


def joined(first: Sound, second: Sound) -> Sound:
    """Concatenate two sounds, at the rate of the second unless that is empty."""
    if not len(second.samples):
        return first
    first = resampled(first, second.samplerate_hz)
    return Sound(np.concatenate([first.samples, second.samples]), second.samplerate_hz)


def resampled(sound: Sound, samplerate_hz: int) -> Sound:
    """Return the same sound at another rate."""
    if sound.samplerate_hz == samplerate_hz:
        return sound
    import soxr  # here: few answers need resampling

    return Sound(soxr.resample(sound.samples, sound.samplerate_hz, samplerate_hz), samplerate_hz)


def wav_bytes(sound: Sound) -> bytes:
    """Encode as a 16-bit mono WAV."""
    out = io.BytesIO()
    with wave.open(out, "wb") as file:
        file.setnchannels(1)
        file.setsampwidth(2)
        file.setframerate(sound.samplerate_hz)
        file.writeframes(sound.samples.astype("<i2").tobytes())
    return out.getvalue()


def save_wav(path: Path, sound: Sound, *, private: bool = False, forced: bool = True) -> None:
    """Write a 16-bit mono WAV, whole or not at all; see `handsfree.files.write_whole`.

    Raises:
        SoundError: the file can't be written.
    """
    try:
        write_whole(path, wav_bytes(sound), private=private, forced=forced)
    except OSError as fault:
        reason = fault.strerror or fault
        raise SoundError(f'can\'t write the sound file "{path}": {reason}; choose another folder') from fault
