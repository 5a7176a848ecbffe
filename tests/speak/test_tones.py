"""The short sounds before an answer."""

from itertools import combinations

import numpy as np
import pytest

from handsfree.speak import Tone, tone
from handsfree.speak.sound import EARCONS, SAMPLERATE_HZ

pytestmark = pytest.mark.quick

SOUNDING = [each for each in Tone if each is not Tone.NONE]
ANSWERS = [each for each in SOUNDING if each is not Tone.TICK]


def rhythm(kind):
    """Pulse lengths as heard: measured from the samples, in units of 20 ms."""
    envelope = np.abs(tone(kind).samples.astype(float))
    window = SAMPLERATE_HZ // 200
    loud = np.convolve(envelope, np.ones(window) / window, mode="same") > 1500
    edges = np.flatnonzero(np.diff(np.concatenate([[0], loud.astype(int), [0]])))
    return tuple(round((end - start) / SAMPLERATE_HZ / 0.02) for start, end in edges.reshape(-1, 2))


@pytest.mark.parametrize("kind", SOUNDING)
@pytest.mark.parametrize("rate", [16_000, 22_050, 48_000])
def test_tone_has_headroom_and_soft_edges(kind, rate):
    samples = tone(kind, rate).samples.astype(int)
    assert 0.2 * 32767 < np.abs(samples).max() <= 0.5 * 32767
    assert abs(samples[0]) < 50
    assert abs(samples[-1]) < 50
    assert abs(samples.mean()) < 40


@pytest.mark.parametrize("kind", SOUNDING)
def test_tone_is_over_before_anyone_waits_for_it(kind):
    assert tone(kind).duration_s <= 0.45


def test_tick_is_a_tick():
    assert tone(Tone.TICK).duration_s < 0.03


def test_every_two_answers_differ_in_rhythm_alone():
    rhythms = {kind: rhythm(kind) for kind in ANSWERS}
    assert all(rhythms.values())
    alike = [(a, b) for a, b in combinations(ANSWERS, 2) if rhythms[a] == rhythms[b]]
    assert alike == []


def test_over_has_more_pulses_than_any_other_and_good_has_two():
    pulses = {kind: len(rhythm(kind)) for kind in ANSWERS}
    assert pulses[Tone.OVER] == 4
    assert max(count for kind, count in pulses.items() if kind is not Tone.OVER) == 3
    assert (pulses[Tone.SHORT], pulses[Tone.GOOD]) == (1, 2)


@pytest.mark.parametrize("kind", SOUNDING)
def test_strongest_pitch_is_the_one_written_down(kind):
    """Against numpy's Fourier transform: the first note's pitch to within one bin."""
    note = EARCONS[kind][0]
    samples = tone(kind, 48_000).samples[: note.ms * 48].astype(float)
    spectrum = np.abs(np.fft.rfft(samples * np.hanning(len(samples)), 48_000))
    assert abs(int(np.argmax(spectrum)) - note.hz) <= max(2, 500 / note.ms)


def test_no_tone_is_no_sound():
    assert len(tone(Tone.NONE).samples) == 0


def test_shared_samples_cant_be_spoiled():
    with pytest.raises(ValueError, match="read-only"):
        tone(Tone.SHORT).samples[0] = 1
