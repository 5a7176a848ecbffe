"""Phrases in letters that can be read from a step away."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from handsfree.show.letters import banner

pytestmark = pytest.mark.quick

WORDS = st.lists(
    st.sampled_from(["cylinder", "three", "top,", "no", "thousandths", "what's", "go"]), max_size=9
)


@given(WORDS, st.integers(20, 120))
def test_no_row_is_wider_than_the_terminal(words: list[str], columns: int) -> None:
    rows = banner(" ".join(words), columns)
    assert all(len(row) <= columns for row in rows)
    assert bool(rows) == bool(words)


def test_a_line_holds_as_many_words_as_fit_and_is_three_rows_high() -> None:
    assert len(banner("no go", 40)) == 3
    assert len(banner("no go", 15)) == 7  # two lines and a gap
    assert banner("thousandths", 20) == ["thousandths"]  # too wide to be drawn: plain
    assert banner("", 80) == []


def test_everything_that_is_read_aloud_can_be_drawn() -> None:
    unknown = banner("~", 80)
    for phrase in ("what's left", "cylinder three top, eighteen", "no go twelve point oh five"):
        for word in phrase.split():
            for letter in word:
                assert banner(letter, 80) != unknown
