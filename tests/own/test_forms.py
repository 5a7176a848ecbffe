"""Written forms: found beside what was said, and never one that could be another word."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from handsfree.own.forms import collides, found_form, plain_text, with_forms
from handsfree.plan import load_plan
from handsfree.understand import Letters, listen_for, load_spellings
from handsfree.understand.numbers import cardinal_words
from tests.program import PLAN

pytestmark = pytest.mark.quick

SPELLINGS = load_spellings()
LISTENING = listen_for(load_plan(PLAN), load_plan(PLAN).checks[0])
KNOWN = LISTENING.automaton.words


@pytest.mark.parametrize(
    ("said", "free", "found"),
    [
        ("cylinder three top eighteen thou", "Cylinder 3 top, eighteen tau.", (("thou",), "tau")),
        ("cylinder three top eighteen thou", "Cylinder 3 top, 18 tau.", (("thou",), "tau")),
        ("six second twenty two point seven five thou", "6, 2nd, 22.75 dow", (("thou",), "dow")),
        ("twelve and a half thou", "12 1/2 dow", (("thou",), "dow")),
        ("cylinder three top eighteen", "Sullen there 3 top, 18.", (("cylinder",), "sullen there")),
        ("say again", "See a gain.", (("say", "again"), "see a gain")),
        ("finish", "Finnish.", (("finish",), "finnish")),
        ("cylinder three top eighteen thou", "Cylinder 3 top, 18 thou.", None),  # all known
        ("cylinder three top eighteen thou", "Cylinder 3 tap, tau.", None),  # two words differ
        ("eighteen thou", "I think so, too.", None),  # nothing to hold on to
        ("next", "The.", None),  # too unlike to stand for a whole phrase
        ("cylinder three top eighteen thou", "", None),
        ("cylinder three top eighteen thou", "Cylinder 3 top, 81 thou.", None),  # figures are never learned
        ("cylinder three top eighteen thou", "cylinder 3 top 18 one two three four", None),  # too long
    ],
)  # fmt: skip
def test_a_form_is_found_where_just_one_word_is_written_otherwise(
    said: str, free: str, found: tuple[tuple[str, ...], str] | None
) -> None:
    phrases = LISTENING.automaton.phrases
    assert found_form(tuple(said.split()), free, SPELLINGS, phrases) == found


@pytest.mark.parametrize(
    ("word", "form"),
    [
        ("fifteen", "fifty"),  # another number
        ("fifteen", "fift"),  # with a y it is another number
        ("fifteen", "fiftey"),  # looks more like another number
        ("nine", "fine"),  # as much like five
        ("sixteen", "sixty in"),  # holds another number
        ("sixteen", "six ten"),
        ("eighteen", "eight"),
        ("thou", "to"),  # a spelling of two
        ("thou", "tens"),
        ("thou", "o two"),
        ("top", "x"),  # a letter
        ("thou", "18"),  # figures
        ("second", "seven"),
        ("next", "go"),
    ],
)
def test_a_form_that_could_be_something_else_collides(word: str, form: str) -> None:
    assert collides((word,), form, SPELLINGS, KNOWN)


@pytest.mark.parametrize(
    ("word", "form"),
    [("thou", "tau"), ("fifteen", "fivteen"), ("cylinder", "sullen there"), ("second", "seckond")],
)
def test_a_form_that_is_like_nothing_else_does_not_collide(word: str, form: str) -> None:
    assert not collides((word,), form, SPELLINGS, KNOWN)


def test_a_form_collides_with_a_label_of_the_plan_in_use() -> None:
    assert not collides(("thou",), "tau", SPELLINGS, KNOWN)
    assert collides(("thou",), "tau", SPELLINGS, [*KNOWN, "tau"])
    assert with_forms(SPELLINGS, {("thou",): ("tau",)}, [*KNOWN, "tau"]) == SPELLINGS


@given(st.integers(1, 99), st.integers(1, 99))
def test_no_number_can_be_learned_to_be_written_as_another(said: int, written: int) -> None:
    words, form = tuple(cardinal_words(said)), " ".join(cardinal_words(written))
    for word in words:
        assert collides((word,), form, SPELLINGS, KNOWN)


@given(st.integers(1, 99), st.integers(1, 99))
def test_a_number_written_as_another_never_gives_a_form_that_is_used(said: int, written: int) -> None:
    words = ("cylinder", "three", "top", *cardinal_words(said), "thou")
    found = found_form(words, f"Cylinder 3 top, {' '.join(cardinal_words(written))} thou.", SPELLINGS)
    assert found is None or collides(*found, SPELLINGS, KNOWN)


def test_a_learned_form_is_read_as_its_word_and_changes_no_other_reading() -> None:
    joined = with_forms(SPELLINGS, {("thou",): ("tau",), ("top",): ("toppe",)}, KNOWN)
    usual, own = Letters(LISTENING.automaton, SPELLINGS), Letters(LISTENING.automaton, joined)
    assert usual.words("cylinder 3 toppe, 18 tau") == ()
    assert own.words("cylinder 3 toppe, 18 tau") == (("cylinder", "three", "top", "eighteen", "thou"),)
    for number in range(1, 100):
        text = f"cylinder three top {' '.join(cardinal_words(number))} thou"
        assert own.words(text) == usual.words(text) != ()
        assert own.words(f"cylinder 3 top {number}") == usual.words(f"cylinder 3 top {number}") != ()


def test_marks_that_mean_nothing_are_taken_out_of_a_text() -> None:
    assert plain_text("Cylinder three-top, 22.75 Thou.") == "cylinder three top 22.75 thou"
