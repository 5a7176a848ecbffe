"""How long words take to say."""

from __future__ import annotations

import csv
import math
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from handsfree.hear import read_sound
from handsfree.hear.phrase import expected_s, pace, pace_logp

pytestmark = pytest.mark.quick

FIXTURES = Path(__file__).parents[2] / "audio_fixtures"
WORDS = st.lists(st.sampled_from(["cylinder", "three", "top", "eighteen", "oh"]), min_size=1, max_size=8)


@given(WORDS, st.floats(0.1, 20))
def test_an_ordinary_pace_is_the_likeliest_and_twice_as_slow_is_as_odd_as_twice_as_fast(words, factor):
    ordinary = expected_s(words)
    assert pace(words, ordinary) == pytest.approx(0)
    assert pace_logp(words, ordinary) == pytest.approx(0)
    assert pace_logp(words, ordinary * factor) <= 0
    if ordinary / factor > 0.05 and ordinary * factor > 0.05:  # nothing is said in less
        assert pace_logp(words, ordinary * factor) == pytest.approx(pace_logp(words, ordinary / factor))


def test_more_letters_take_longer():
    assert (
        expected_s(["eighteen"]) < expected_s(["eighteen", "thou"]) < expected_s(["eighteen", "thousandths"])
    )


def test_no_sound_at_all_is_odd_but_finite():
    for spoken_s in (0.0, -1.0):
        assert math.isfinite(pace_logp(["cylinder", "three", "top", "eighteen"], spoken_s))


def test_a_short_answer_to_a_long_sound_is_unlikely():
    """What it is for: "eight" isn't the answer to two seconds of speech."""
    assert pace_logp(["eight"], 2.0) < -5
    assert pace_logp(["cylinder", "three", "top", "eighteen"], 2.0) > -0.5


def test_the_fixtures_are_spoken_at_the_pace_that_is_expected():
    """A quarter of a second of silence is at each end of a fixture."""
    with (FIXTURES / "manifest.csv").open(encoding="utf-8") as file:
        rows = [row for row in csv.DictReader(file) if row["kind"] == "reading"][::25]
    paces = []
    for row in rows:
        spoken_s = len(read_sound(FIXTURES / row["file"])) / 16_000 - 0.5
        paces.append(pace(row["text"].replace(",", "").split(), spoken_s))
    assert len(paces) > 10
    assert abs(sum(paces) / len(paces)) < 0.1
    assert max(map(abs, paces)) < 0.6
