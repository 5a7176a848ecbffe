"""How much silence ends an utterance, by its words."""

from pathlib import Path

import pytest

from handsfree.hear import Timing
from handsfree.live.listener import Patience
from handsfree.planfile import load_plan
from handsfree.understand import Decision, Outcome, listen_for, meanings

pytestmark = pytest.mark.quick

PLAN = load_plan(Path(__file__).parents[2] / "demo" / "plan.toml")
LISTENING = listen_for(PLAN, PLAN.checks[0])
TIMING = Timing(closed_ms=128, complete_ms=200, digits_ms=350, end_ms=550, incomplete_ms=1000)


def wait(text, outcome=Outcome.ACCEPT):
    words = tuple(text.split())
    found = meanings(words, LISTENING.automaton, LISTENING.context)
    assert found, text
    return Patience(TIMING).after(words, Decision(outcome, found), LISTENING.automaton)


@pytest.mark.parametrize(
    "text",
    [
        "cylinder three top eighteen thou",
        "eighteen and a half",
        "eighteen point two five thou",
        "twenty two thou",
        "twenty thou",
        "next",
        "disregard",
        "no go eighteen thou",
        "eighteen drag",
    ],
)
def test_command_whose_number_cannot_go_on_ends_soonest(text):
    assert wait(text) == 128


@pytest.mark.parametrize(
    "text",
    ["cylinder three top eighteen", "twenty two", "forty three", "no go eighteen"],
)
def test_whole_command_whose_number_may_yet_get_a_part_ends_soon(text):
    """A pause in "forty three ... and a half" must not log forty three."""
    assert wait(text) == 200


def test_negative_may_be_followed_by_the_right_value():
    assert wait("negative") == 200


@pytest.mark.parametrize("text", ["one eight", "eighteen point two", "cylinder three top one eight"])
def test_row_of_digits_that_may_go_on_is_given_a_little_longer(text):
    assert wait(text) == 350


@pytest.mark.parametrize("text", ["twenty", "cylinder three top thirty", "five", "cylinder three second six"])
def test_number_that_may_go_on_is_given_longer(text):
    """A pause in the middle of "twenty ... two" must not log twenty."""
    assert wait(text) == 550


@pytest.mark.parametrize("text", ["cylinder three top", "cylinder three", "correction"])
def test_place_without_its_reading_is_given_longest(text):
    assert wait(text) == 1000


@pytest.mark.parametrize("text", ["cylinder three top eighteen", "eighteen thou", "one eight", "next"])
def test_doubtful_command_that_is_whole_is_given_longer_than_a_sure_one(text):
    assert wait(text, Outcome.ASK) == 350


@pytest.mark.parametrize("text", ["twenty", "cylinder three top", "correction"])
def test_doubtful_command_that_may_go_on_and_no_words_are_given_the_usual_time(text):
    assert wait(text, Outcome.ASK) == 550
    assert Patience(TIMING).after((), Decision(Outcome.IGNORE), LISTENING.automaton) == 550
