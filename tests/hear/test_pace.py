"""How long words take to say."""

from __future__ import annotations

import csv
import math
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from handsfree.hear import SAMPLERATE_HZ, Samples, read_sound
from handsfree.hear.phrase import expected_s, loud_stretch_s, pace, pace_logp, told_pace
from handsfree.understand import Thresholds

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


TALK_S = (0.8, 1.2)


def beside(word_s: float, talk_db: float, blow: bool = False) -> Samples:
    """A word of so many seconds with talk before and after it, so far below it: noise stands for both."""
    rng = np.random.default_rng(5)
    parts = [
        rng.normal(0, 3000 * 10 ** (-talk_db / 20), int(TALK_S[0] * SAMPLERATE_HZ)),
        rng.normal(0, 3000, int(word_s * SAMPLERATE_HZ)),
        rng.normal(0, 3000 * 10 ** (-talk_db / 20), int(TALK_S[1] * SAMPLERATE_HZ)),
    ]
    sound = np.concatenate(parts)
    if blow:
        sound[:400] += rng.normal(0, 30_000, 400)
    return np.clip(sound, -32_768, 32_767).astype(np.int16)


def paced(words: list[str], samples: Samples) -> float:
    return told_pace(words, len(samples) / SAMPLERATE_HZ, loud_stretch_s(samples))


def test_quieter_talk_around_a_word_makes_it_no_slower():
    words = ["say", "again"]
    assert loud_stretch_s(beside(0.7, 14)) == pytest.approx(0.7, abs=0.1)
    assert paced(words, beside(0.7, 14)) < Thresholds().slowest
    assert pace(words, 0.7 + sum(TALK_S)) > Thresholds().slowest


@pytest.mark.parametrize("talk_db", [0, 3, 6, 9])
def test_speech_about_as_loud_as_the_words_counts_as_more_of_the_command(talk_db):
    sound = beside(0.7, talk_db)
    assert paced(["say", "again"], sound) == pytest.approx(
        pace(["say", "again"], len(sound) / SAMPLERATE_HZ), abs=0.1
    )


def test_a_blow_louder_than_the_speaker_hides_no_words_of_his():
    """What was said is quiet beside the blow, so the loudest part says nothing about the speaker."""
    sound = beside(0.7, 0, blow=True)
    assert loud_stretch_s(sound) < 0.3
    assert paced(["say", "again"], sound) == pace(["say", "again"], len(sound) / SAMPLERATE_HZ)


def test_loudness_never_makes_words_quicker_than_usual():
    words = ["cylinder", "three", "top", "eighteen"]
    assert told_pace(words, 4.0, 1.3) == 0.0
    assert told_pace(words, 1.0, 1.0) == pace(words, 1.0) < 0


@pytest.mark.parametrize("samples", [0, 100, 16_000])
def test_silence_has_no_loud_stretch(samples):
    assert loud_stretch_s(np.zeros(samples, np.int16)) == 0.0


def test_a_loud_stretch_with_room_for_a_short_word_more_proves_nothing():
    """It may be "go twelve", of which only "twelve" was heard: 0.94 s of sound, where "twelve" takes 0.57."""
    assert told_pace(["twelve"], 1.5, 0.64) == pace(["twelve"], 1.5)
    assert told_pace(["twelve"], 1.5, 0.5) < pace(["twelve"], 1.5)
