"""Recordings of people cut into clips; their texts dealt out to them, and written as the decoder writes."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from handsfree.training.people import LONGEST_S, crossfaded, dealt_out, pieces, same_sound, written_as

pytestmark = pytest.mark.quick
SECOND = 16_000


def speech(*seconds: float) -> np.ndarray:
    """Bursts of noise of so many seconds, three tenths of a second of near silence between them."""
    draw = np.random.default_rng(5)
    parts = []
    for length in seconds:
        parts += [draw.normal(0, 6000, int(length * SECOND)), draw.normal(0, 20, int(0.3 * SECOND))]
    return np.concatenate([draw.normal(0, 20, SECOND), *parts]).astype(np.int16)


def test_a_short_recording_is_one_piece_without_its_silence() -> None:
    ((start, end),) = pieces(speech(2.0))
    assert SECOND - 0.1 * SECOND <= start <= SECOND
    assert 3 * SECOND <= end <= 3.15 * SECOND


def test_a_long_recording_is_cut_at_its_pauses() -> None:
    found = pieces(speech(4.0, 4.0, 4.0))
    assert len(found) == 3
    assert all(end - start <= LONGEST_S * SECOND for start, end in found)
    pauses = [(1 + 4.3 * n - 0.3) * SECOND for n in (1, 2)]
    for (_, end), pause in zip(found, pauses, strict=False):
        assert pause - 0.05 * SECOND <= end <= pause + 0.35 * SECOND


@pytest.mark.parametrize("samples", [np.zeros(SECOND, np.int16), np.zeros(10, np.int16)])
def test_what_holds_no_sound_gives_no_piece(samples: np.ndarray) -> None:
    assert pieces(samples) == []


@given(
    st.lists(
        st.lists(st.sampled_from(["cat", "dog", "hen", "fox", "cow", "owl", "pig"]), min_size=1, max_size=6),
        max_size=4,
    )
)
def test_dealing_out_keeps_every_word_in_order(heard: list[list[str]]) -> None:
    words = [word for piece in heard for word in piece]
    if heard:
        dealt = dealt_out(words, heard)
        assert [word for piece in dealt for word in piece] == words
        assert dealt == heard


@pytest.mark.parametrize(
    ("text", "heard", "written"),
    [
        ("fifty one fifty six", "51-56", "51-56."),
        ("one oh six five", "One O six five,", "One O six five."),
        ("he said no", "He said, no.", "He said, no."),
        ("and spurning a friendship", "And spurning, a frenship.", "And spurning, a friendship."),
        ("the red bow", "", "The red bow."),
    ],
)
def test_text_takes_the_decoders_marks_where_it_heard_the_words(text: str, heard: str, written: str) -> None:
    assert written_as(text, heard) == written


def test_thirteen_and_thirty_do_not_sound_the_same() -> None:
    assert same_sound("thirteen") != same_sound("thirty")
    assert same_sound("one three") == same_sound("thirteen")  # figures alone can't tell


def test_a_short_noise_is_repeated_without_a_gap() -> None:
    noise = np.random.default_rng(1).normal(0, 3000, SECOND).astype(np.int16)
    long = crossfaded(noise, 3.5)
    assert len(long) == int(3.5 * SECOND)
    levels = np.sqrt((long.astype(float)[: 34 * 1600].reshape(34, 1600) ** 2).mean(1))
    assert levels.min() > 0.55 * levels.max()
