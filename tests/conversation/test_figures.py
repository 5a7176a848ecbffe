"""The figures that are published for natural words: what they must not exceed."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from tests.conversation.outcome import Grade, grade
from tests.measure.conversation import shares

pytestmark = pytest.mark.quick

FIGURES = Path(__file__).parents[1] / "measure" / "conversation.json"


@pytest.fixture(scope="module")
def results():
    return json.loads(FIGURES.read_text("utf-8"))


def test_silence_absurd_questions_and_wrong_actions_stay_within_what_is_promised(results):
    found = shares(results)
    assert float(found[Grade.SILENCE]) <= 5
    assert float(found[Grade.ABSURD]) <= 1
    assert float(found[Grade.WRONG]) == 0
    assert float(found["talk answered"]) == 0


def test_they_are_of_six_voices_and_more_and_graded_as_is_graded_today(results):
    assert len({one["voice"] for one in results}) >= 6
    assert all(grade(one["should"].split(" / "), one["came"]).value == one["grade"] for one in results)
