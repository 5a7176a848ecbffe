"""Short sounds that distinguish answers without words, for people who wear ear defenders.

They differ in rhythm as well as pitch: hearing loss and ear defenders mask the pitch, seldom the
rhythm. Pitches lie between 400 and 1400 Hz, which are still heard through ear defenders and with
age-related hearing loss (common practice, no source).
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache

import numpy as np

from handsfree.speak.reply import Tone
from handsfree.speak.sound import FULL_SCALE, Samples, Sound, silence

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
