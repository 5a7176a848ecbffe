"""What is written freely: places that aren't there, talk, and words that were meant for the bench."""

from __future__ import annotations

from pathlib import Path

import pytest

from handsfree.planfile import load_plan
from handsfree.understand import Decision, Near, Outcome, listen_for, weighed
from handsfree.understand.decide import Evidence
from handsfree.understand.near import MOST_WORDS, is_meant, likeness, missing_label, reconsider, written_words

pytestmark = pytest.mark.quick

AXES = {"cylinder": tuple("12345678"), "ring": ("top", "second")}
OWN = ("cylinder", "ring", "top", "second")
CHATTER = Path(__file__).parents[2] / "audio_fixtures" / "chatter.txt"


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("Cylinder 6 top, 22.75", "cylinder six top twenty two point seventy five"),
        ("2nd on #9.", "two on nine"),
        ("It's 018.", "it's zero one eight"),
        ("", ""),
    ],
)
def test_written_text_is_read_in_the_grammars_spelling(text, words):
    assert " ".join(written_words(text)) == words


@pytest.mark.parametrize(
    ("text", "missing"),
    [
        ("Cylinder 9.", ("cylinder", "9")),
        ("Cylinder number nine, top, 18 thou.", ("cylinder", "9")),
        ("Number 12 second.", ("cylinder", "12")),
        ("Number twelve.", None),  # of a house, a bus, a page
        ("Cylinder 8 top, 18.", None),
        ("The cylinder is hot.", None),
        ("Eighteen thou.", None),
    ],
)
def test_only_a_place_that_the_plan_lacks_is_missing(text, missing):
    assert missing_label(text, AXES) == missing


def test_places_named_by_words_are_never_missing():
    assert missing_label("Journal 3, left.", {"journal": ("front", "rear")}) is None


@pytest.mark.parametrize(
    "text",
    [
        "Put down 16.",
        "Log seventeen for number two.",
        "Can you hear me?",
        "The eighteen won't go in.",
        "14, 15.",
    ],
)
def test_what_is_said_to_a_bench_is_meant(text):
    assert is_meant(text, OWN)


def test_no_talk_of_the_fixtures_is_meant_for_the_bench():
    """Near misses among it: numbers and words of the bench in talk that is no reading."""
    lines = CHATTER.read_text("utf-8").splitlines()
    talk = [line for line in lines if line.strip() and not line.startswith("#")]
    assert len(talk) > 150
    assert [line for line in talk if is_meant(line, OWN)] == []
    assert [line for line in talk if missing_label(line, AXES)] == []


def test_a_long_sentence_is_never_meant():
    assert not is_meant("go " * (MOST_WORDS + 1), OWN)


ASKED = Decision(Outcome.ASK, ())


@pytest.mark.parametrize(
    ("words", "free", "fit", "outcome"),
    [
        ("seventeen thou", "17 now.", -1.5, Outcome.ASK),
        ("four top ten", "Hold the door.", -1.5, Outcome.IGNORE),
        ("four top ten", "Hold the door.", -0.5, Outcome.IGNORE),
        ("one seven four no two", "Locks seventeen of them.", -1.9, Outcome.IGNORE),
        ("eighteen", "Eight in.", -0.5, Outcome.ASK),
    ],
)
def test_a_doubtful_phrase_is_asked_about_only_where_it_is_like_what_was_written(words, free, fit, outcome):
    assert reconsider(ASKED, words.split(), free, fit, AXES).outcome is outcome


def test_a_sure_phrase_stays_sure_and_a_recogniser_without_free_writing_decides_alone():
    sure = Decision(Outcome.ACCEPT, ())
    assert reconsider(sure, ["eighteen"], "Nothing like it.", -0.1, AXES) == sure
    assert reconsider(ASKED, ["eighteen"], None, -1.9, AXES) == ASKED


def test_a_place_that_is_not_there_is_named_even_where_a_phrase_seems_sure():
    sure = Decision(Outcome.ACCEPT, ())
    found = reconsider(sure, ["cylinder", "five", "top", "eighteen"], "Cylinder 9 top, 18.", -0.2, AXES)
    assert found == Decision(Outcome.ASK, near=Near(missing=("cylinder", "9")))


def test_what_is_meant_and_not_understood_gets_a_hint():
    found = reconsider(Decision(Outcome.IGNORE), [], "Put down 16.", None, AXES)
    assert found.near == Near(said="Put down 16.")
    assert reconsider(Decision(Outcome.IGNORE), [], "Put it over there.", None, AXES).near is None


def test_likeness_is_that_of_letters_with_numerals_in_words():
    assert likeness("16 thou", ["sixteen", "thou"]) == 1
    assert likeness("", ["sixteen"]) == 0


@pytest.mark.parametrize(
    ("text", "meant"),
    [
        ("This was at sixteen and a half.", True),  # a size that can be true here
        ("I think it was 16.5 then.", True),
        ("This was at two then.", False),  # outside the window
        ("We're around cylinder five.", True),  # a place of the plan
        ("She was sixteen then.", False),  # a word that isn't said to a bench
        ("This was at sixteen and then I had it up and down and so on.", False),  # too long
    ],
)
def test_a_size_or_place_that_can_be_meant_now_among_plain_words_gets_a_hint(text, meant):
    heard = load_plan(CHATTER.parents[1] / "demo" / "plan.toml")
    listening = listen_for(heard, heard.checks[0])
    context = listening.at(heard.checks[0].positions[0], heard.checks[0])
    decision = weighed(Evidence(()), text, listening.automaton, context)
    assert (decision.near is not None) is meant
