"""How late the bench hears itself: learned from the beginnings of its answers."""

import numpy as np
import pytest

from handsfree.live.mouth import Echo

pytestmark = pytest.mark.quick

RATE = 16_000
RNG = np.random.default_rng(3)


def noise(seconds, level):
    return RNG.integers(-level, level + 1, round(RATE * seconds)).astype(np.int16)


def answer(echo, *, late_s, began_at=100.0, room=3, loud=3_000):
    """Let an answer of two seconds be heard so late, in pieces of 32 ms; None is one that isn't heard."""
    sound = noise(5, room)
    if late_s is not None:
        start = round((1 + late_s) * RATE)
        sound[start : start + 2 * RATE] = noise(2, loud)
    for end in range(512, len(sound) + 1, 512):
        echo.hear(sound[end - 512 : end], began_at - 1 + end / RATE)
    echo.played(began_at)


@pytest.mark.parametrize("late_s", [0.0, 0.04, 0.31, 0.8])
def test_lateness_is_learned_from_one_answer(late_s):
    echo = Echo()
    answer(echo, late_s=late_s)
    assert echo.late_s == pytest.approx(late_s, abs=0.02)


def test_an_answer_that_the_microphone_does_not_hear_teaches_nothing():
    echo = Echo()
    answer(echo, late_s=None)
    assert echo.late_s == 0
    answer(echo, late_s=0.3)
    answer(echo, late_s=None)
    assert echo.late_s == pytest.approx(0.3, abs=0.02)


def test_noise_as_loud_as_the_voice_teaches_nothing():
    echo = Echo()
    answer(echo, late_s=0.3, room=2_000)
    assert echo.late_s == 0


def test_speech_at_any_time_after_a_second_is_no_echo():
    echo = Echo()
    answer(echo, late_s=1.2)
    assert echo.late_s == 0


def test_sound_that_comes_later_and_later_is_followed_at_once_and_one_answer_with_talk_is_forgotten():
    echo = Echo()
    for late_s in (0.1, 0.1, 0.4):
        answer(echo, late_s=late_s)
    assert echo.late_s == pytest.approx(0.4, abs=0.02)
    answer(echo, late_s=0.1)
    assert echo.late_s == pytest.approx(0.1, abs=0.02)


def test_click_is_not_the_answer():
    echo = Echo()
    sound = noise(2, 3)
    sound[RATE + 3_200 : RATE + 3_520] = 20_000
    sound[RATE + 8_000 :] = noise(0.5, 3_000)
    echo.hear(sound, 101.0)
    echo.played(100.0)
    assert echo.late_s == pytest.approx(0.5, abs=0.02)
