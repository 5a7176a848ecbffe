"""Sound as plain samples with their rate, and saving it.

Short sounds that tell answers apart without words, for ears under defenders.

They differ in rhythm as well as pitch: hearing loss and ear defenders mask the pitch, seldom the
rhythm. Pitches lie between 400 and 1400 Hz, which are still heard through ear defenders and with
age-related hearing loss (common practice, no source).
"""

from __future__ import annotations

import io
import wave
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from handsfree.errors import SoundError
from handsfree.files import write_whole
from handsfree.speak.reply import Tone

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


SAMPLERATE_HZ = 22_050
"""Default rate of tones: that of the packaged voice, so that an answer needs no resampling."""

_EDGE_S = 0.006  # raised-cosine rise and fall: a shorter one clicks, a longer one blurs the rhythm
_PEAK = 0.45  # of full scale; with its second harmonic a note stays below this


@dataclass(frozen=True, slots=True)
class Note:
    """One pulse: pitch in Hz, length and the pause after it in ms."""

    hz: float
    ms: int
    pause_ms: int = 0


EARCONS: dict[Tone, tuple[Note, ...]] = {
    Tone.SHORT: (Note(620, 150),),  # one long: go on
    Tone.GOOD: (Note(784, 45, 25), Note(1175, 110)),  # short, long, rising
    Tone.OVER: (Note(440, 55, 45), Note(440, 55, 45), Note(440, 55, 45), Note(415, 55)),  # four quick, low
    Tone.AGAIN: (Note(587, 110, 110), Note(587, 110)),  # two even
    Tone.ASK: (Note(698, 130, 30), Note(932, 60)),  # long, short, rising
    Tone.DONE: (Note(523, 70, 30), Note(659, 70, 30), Note(784, 200)),  # short, short, long, rising
    Tone.NOTE: (Note(880, 70),),  # one short note
    Tone.TICK: (Note(1319, 16),),  # a key press
    Tone.OPEN: (Note(1047, 24),),  # after an answer: it listens again
    Tone.NONE: (),
}


@cache
def tone(kind: Tone, samplerate_hz: int = SAMPLERATE_HZ) -> Sound:
    """Synthesise the sound of a tone; empty for `Tone.NONE`.

    The samples are shared between calls and read-only.

    >>> round(tone(Tone.SHORT).duration_s, 2), len(tone(Tone.NONE).samples)
    (0.15, 0)
    """
    parts = [silence(0, samplerate_hz)]
    for note in EARCONS[kind]:
        parts += [_pulse(note, samplerate_hz), silence(note.pause_ms / 1000, samplerate_hz)]
    samples = np.concatenate(parts)
    samples.setflags(write=False)
    return Sound(samples, samplerate_hz)


def _pulse(note: Note, samplerate_hz: int) -> Samples:
    """Synthesise one note: a sine with a little of its octave, with soft edges."""
    count = round(note.ms * samplerate_hz / 1000)
    phase = 2 * np.pi * note.hz * np.arange(count) / samplerate_hz
    wave = 0.8 * np.sin(phase) + 0.2 * np.sin(2 * phase)
    edge = min(count // 2, round(_EDGE_S * samplerate_hz))
    rise = 0.5 - 0.5 * np.cos(np.pi * np.arange(edge) / edge)
    envelope = np.ones(count)
    envelope[:edge] = rise
    envelope[count - edge :] = rise[::-1]
    return np.round(_PEAK * FULL_SCALE * wave * envelope).astype(np.int16)
