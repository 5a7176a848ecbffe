"""Whether a microphone will do: levels of sounds whose level is known, and advice at every threshold.

Levels are checked against IEC 61672's definition, 20 log10 of the root mean square over full scale: a sine
of amplitude A lies at 20 log10(A / sqrt 2).
"""

import math

import numpy as np
import pytest

from handsfree.devices import QUIET_DB, MicrophoneReport, measure
from handsfree.devices.microphone import CLIPPED_SHARE, FAIR_SNR_DB, GOOD_SNR_DB, PLACE, Fitness

pytestmark = pytest.mark.quick

TOO_HARD = "It is driven too hard: turn its gain down, or move it away a little."
FAINT = "It hears you faintly: turn its gain up, or bring it closer."
LOUD_ROOM = f"The room is loud beside your voice. {PLACE}"


def sine(peak_db, seconds=1.0):
    """A tone of 1 kHz whose peak is so far below full scale."""
    time = np.arange(round(seconds * 16_000)) / 16_000
    return np.rint(32_767 * 10 ** (peak_db / 20) * np.sin(2 * np.pi * 1000 * time)).astype(np.int16)


def report(floor_db=-70.0, speech_db=-30.0, peak_db=-12.0, clipped=0.0):
    return MicrophoneReport(floor_db, speech_db, peak_db, clipped)


@pytest.mark.parametrize("peak_db", [-60.0, -40.0, -20.0, -6.0])
def test_levels_of_a_sine_are_those_of_its_root_mean_square(peak_db):
    measured = measure(sine(peak_db - 30), sine(peak_db))
    effective = 20 * math.log10(1 / math.sqrt(2))
    assert measured.speech_db == pytest.approx(peak_db + effective, abs=0.1)
    assert measured.peak_db == pytest.approx(peak_db, abs=0.1)
    assert measured.clipped == 0


def test_room_is_its_median_so_that_one_blow_of_a_hammer_does_not_count():
    room = np.concatenate([sine(-60, 0.9), sine(-3, 0.1)])
    assert measure(room, sine(-20)).floor_db == pytest.approx(-63, abs=0.2)


def test_speech_is_the_loud_half_of_the_phrase_so_that_its_pauses_do_not_count():
    phrase = np.concatenate([sine(-20, 0.6), np.zeros(16_000, np.int16)])
    assert measure(sine(-70), np.concatenate([phrase, sine(-20, 0.6)])).speech_db == pytest.approx(
        -23, abs=0.2
    )


def test_clipped_share_counts_the_samples_at_full_scale_on_either_side():
    phrase = np.zeros(1000, np.int16)
    phrase[:3], phrase[3:5], phrase[5] = 32_767, -32_768, 32_699
    assert measure(phrase[10:], phrase).clipped == pytest.approx(0.005)


def test_nothing_at_all_is_poor_and_no_fault():
    empty = np.zeros(0, np.int16)
    assert measure(empty, empty).fitness is Fitness.POOR


@pytest.mark.parametrize(
    ("measured", "fitness", "advice"),
    [
        (report(), Fitness.GOOD, ()),
        (report(floor_db=-30 - GOOD_SNR_DB), Fitness.GOOD, ()),
        (report(floor_db=-30 - GOOD_SNR_DB + 0.1), Fitness.FAIR, (LOUD_ROOM,)),
        (report(floor_db=-30 - FAIR_SNR_DB), Fitness.FAIR, (LOUD_ROOM,)),
        (report(floor_db=-30 - FAIR_SNR_DB + 0.1), Fitness.POOR, (LOUD_ROOM,)),
        (report(speech_db=QUIET_DB), Fitness.GOOD, ()),
        (report(speech_db=QUIET_DB - 0.1), Fitness.FAIR, (FAINT,)),
        (report(floor_db=-90, speech_db=QUIET_DB - 12.1), Fitness.POOR, (FAINT,)),
        (report(clipped=CLIPPED_SHARE), Fitness.GOOD, ()),
        (report(clipped=CLIPPED_SHARE * 1.1), Fitness.FAIR, (TOO_HARD,)),
        (
            report(floor_db=-50, speech_db=QUIET_DB - 1, clipped=0.1),
            Fitness.POOR,
            (TOO_HARD, FAINT, LOUD_ROOM),
        ),
    ],
)
def test_fitness_and_advice_at_their_thresholds(measured, fitness, advice):
    assert measured.fitness is fitness
    assert measured.advice == advice


def test_whatever_is_not_good_comes_with_advice_and_what_is_good_with_none():
    for floor_db in np.arange(-80.0, 0.0, 3.3):
        for speech_db in np.arange(-80.0, 0.0, 3.7):
            for clipped in (0.0, 0.01):
                measured = report(float(floor_db), float(speech_db), clipped=clipped)
                assert bool(measured.advice) is (measured.fitness is not Fitness.GOOD)
