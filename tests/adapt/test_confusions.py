"""Words that were heard as others."""

from __future__ import annotations

import jiwer
import pytest
from hypothesis import given
from hypothesis import strategies as st

from handsfree.adapt import Confusion, confusions
from handsfree.adapt.spellings import aligned

pytestmark = pytest.mark.quick

PHRASES = st.lists(
    st.sampled_from(["one", "nine", "five", "fifteen", "fifty", "top", "second", "thou"]), max_size=8
)


def test_words_are_paired_where_they_differ() -> None:
    pairs = aligned(["cylinder", "nine", "top", "fifteen", "thou"], ["cylinder", "five", "top", "fifty"])
    assert [pair for pair in pairs if pair[0] != pair[1]] == [
        ("nine", "five"), ("fifteen", "fifty"), ("thou", None),
    ]  # fmt: skip


@given(PHRASES, PHRASES)
def test_an_alignment_loses_nothing_and_turned_round_is_as_long(said: list[str], heard: list[str]) -> None:
    pairs = aligned(said, heard)
    assert [one for one, _ in pairs if one is not None] == said
    assert [other for _, other in pairs if other is not None] == heard
    differences = [pair for pair in pairs if pair[0] != pair[1]]
    assert len(differences) == len([p for p in aligned(heard, said) if p[0] != p[1]])


@given(PHRASES.filter(bool), PHRASES)
def test_it_finds_as_few_differences_as_another_library(said: list[str], heard: list[str]) -> None:
    # Source: jiwer, word errors by Levenshtein's distance.
    found = jiwer.process_words(" ".join(said), " ".join(heard))
    differences = [pair for pair in aligned(said, heard) if pair[0] != pair[1]]
    assert len(differences) == found.substitutions + found.deletions + found.insertions


def test_confusions_are_counted_the_most_frequent_first() -> None:
    found = confusions(
        [(["nine", "thou"], ["five", "thou"]), (["top"], []), (["nine"], ["five"]), ([], ["two"])]
    )
    assert found[0] == Confusion("nine", "five", 2)
    assert {str(one) for one in found} == {
        "nine was heard as five (2 times)", "top was not heard", "two was heard where nothing was said",
    }  # fmt: skip
