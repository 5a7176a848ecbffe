"""Long sentences and pauses in the middle of them, with the real recogniser behind the live loop.

What is said is joined from the fixtures of one voice, or from the recordings of a person
(`tests/support/human.py`), with the pause that the test is about.
"""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from handsfree.ears import Choice
from handsfree.ears import Recognisers as Recognisers
from handsfree.hear import read_sound
from handsfree.journal import Kind
from handsfree.plan import Position
from tests.live.conftest import PLAN
from tests.support.human import prompt, trimmed

GEORGE = Path(__file__).parents[2] / "audio_fixtures" / "kokoro-bm_george"


@pytest.fixture(scope="module")
def ears():
    return Recognisers(PLAN, Choice.PHRASE)


@pytest.fixture
def bench(scene, ears):
    return scene(ears=ears)


def george(number):
    """One of his phrases, without the silence around it."""
    return trimmed(read_sound(GEORGE / f"{number:02d}.ogg"))


def hush(seconds):
    """Quiet, the same each time: a sentence that is hardly sure mustn't hang on the order of the tests."""
    return np.random.default_rng(1).integers(-3, 4, int(16_000 * seconds)).astype(np.int16)


def hear(bench, *pieces):
    bench.quiet(0.5)  # the ears open a little after the last answer
    bench.hear(np.concatenate(pieces))
    bench.quiet(1.5)
    bench.over()


def place(bench, number):
    return bench.bench.session.log()[number].position


def test_two_readings_in_one_breath_are_two_readings(bench):
    """Cylinder four second, sixteen and three quarters; cylinder four top, fifteen."""
    hear(bench, george(9), hush(0.08), george(5))
    assert bench.logged == ["16.75 thou", "15 thou"]
    assert place(bench, 0) == Position.of({"cylinder": "4", "ring": "second"})
    assert place(bench, 1) == Position.of({"cylinder": "4", "ring": "top"})


def test_value_taken_back_in_the_same_breath_is_kept_off_the_log_and_in_the_record(bench):
    """Cylinder four top, fifteen thou, correction, twenty thou."""
    hear(bench, george(5), hush(0.08), george(23))
    assert bench.logged == ["20 thou"]
    [event] = [event for event in bench.journal.events() if event.kind is Kind.READING]
    assert event.draft.data["withdrawn"] == "15 thou"


def test_correction_after_a_pause_corrects_what_was_logged(bench):
    hear(bench, george(5))
    hear(bench, george(23))
    assert bench.logged == ["15 thou", "20 thou"]
    assert [entry.stands for entry in bench.bench.session.log()] == [False, True]


@pytest.mark.parametrize("pause_s", [0.25, 0.4])
@pytest.mark.parametrize(("tens", "unit"), [(20, 2), (20, 5), (30, 1), (20, 8)])
def test_number_with_a_pause_in_it_is_never_its_first_half(bench, tens, unit, pause_s):
    """A person says "twenty", waits, and says "two": twenty must not be logged."""
    said = [trimmed(prompt(f"digits/{number}")) for number in (tens, unit)]
    hear(bench, said[0], hush(pause_s), said[1])
    assert bench.logged in ([], [f"{tens + unit} thou"])
    assert len(bench.mouth.said) == 4, "what isn't logged is asked about"  # after a greeting in three pieces


def test_some_numbers_with_a_pause_in_them_are_understood(bench):
    said = [trimmed(prompt(f"digits/{number}")) for number in (20, 2)]
    hear(bench, said[0], hush(0.3), said[1])
    assert "twenty two" in bench.state.heard


def test_place_and_reading_with_a_pause_between_are_one_reading(bench):
    """Cylinder four top ... fifteen thou, split where the voice is weakest in the middle."""
    whole = george(5)
    middle = len(whole) // 2
    quiet = np.convolve(np.abs(whole[middle - 6_000 : middle + 6_000].astype(float)), np.ones(800), "same")
    cut = middle - 6_000 + int(quiet.argmin())
    hear(bench, whole[:cut], hush(0.6), whole[cut:])
    assert bench.logged == ["15 thou"]
    assert place(bench, 0) == Position.of({"cylinder": "4", "ring": "top"})
