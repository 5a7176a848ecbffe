"""What the judge of the voice knows: what may be answered, and how long the voice takes over it."""

from __future__ import annotations

import itertools
import random

import pytest
from hypothesis import given
from hypothesis import strategies as st

from tests.support.answers import grammar_of_beginnings, grammar_of_verdicts, made_up, sentences_of, words_of
from tests.support.rhythm import learned

pytestmark = pytest.mark.quick

BEGINNINGS, VERDICTS = grammar_of_beginnings(), grammar_of_verdicts()
SECONDS = {
    "two": 0.2,
    "top": 0.5,
    "fourteen": 0.48,
    "forty": 0.4,
    "nine": 0.33,
    "and": 0.2,
    "a": 0.1,
    "half": 0.3,
}
PAUSE_S = 0.17


def said_s(words: list[str]) -> float:
    """A voice that pauses after "forty" and "fourteen" where a part follows."""
    pauses = sum(pair in {("forty", "and"), ("fourteen", "and")} for pair in itertools.pairwise(words))
    return 0.07 + sum(SECONDS[word] for word in words) + PAUSE_S * pauses


def sentence(draw: random.Random) -> list[str]:
    number = draw.choice(("forty", "forty nine", "fourteen", "nine"))
    return f"two top {number} {draw.choice(('', 'and a half'))}".split()


@given(st.integers(0, 2**32))
def test_what_is_made_up_is_what_may_be_answered(seed: int) -> None:
    sentences = [words_of(text) for text in sentences_of(made_up(random.Random(seed)))]
    corrected, *others = sentences if sentences[0] == ["corrected"] else [["corrected"], *sentences]
    assert BEGINNINGS.accepts(tuple(corrected))
    assert BEGINNINGS.accepts(tuple(others[0]))
    assert all(VERDICTS.accepts(tuple(words)) for words in others[1:])


def test_a_rhythm_is_learned_from_sentences_and_tells_words_by_their_length() -> None:
    draw = random.Random(1)
    heard = [sentence(draw) for _ in range(200)]
    rhythm = learned((words, said_s(words) * draw.uniform(0.99, 1.01)) for words in heard)
    assert rhythm.spread == pytest.approx(0.025)
    for words in (["two", "top", "forty"], ["two", "top", "fourteen", "and", "a", "half"]):
        assert rhythm.expected_s(words) == pytest.approx(said_s(words), rel=0.02)
    forty, fourteen = ["two", "top", "forty"], ["two", "top", "fourteen"]
    for said, other in ((forty, fourteen), (fourteen, forty)):
        assert rhythm.logp(said, said_s(said)) > rhythm.logp(other, said_s(said)) + 1.0


def test_a_word_that_was_never_heard_takes_as_long_as_its_letters() -> None:
    rhythm = learned([(["nine"], 0.4), (["forty"], 0.47)] * 20)
    assert rhythm.expected_s(["nine", "thousandths"]) == pytest.approx(0.4 + 0.07 * 11, abs=0.02)
