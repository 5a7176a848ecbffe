"""What is read aloud at a rehearsal."""

from __future__ import annotations

import pytest

from handsfree.adapt import not_read, phrases_to_read
from handsfree.adapt.rehearsal import NUMBER_WORDS
from handsfree.plan import Rule
from handsfree.planfile import load_plan
from handsfree.recordings.manifest import same_command
from handsfree.understand import listen_for, meanings
from tests.support.program import PLAN, ROOT

pytestmark = pytest.mark.quick

BUILD = load_plan(ROOT / "demo" / "build" / "plan.toml")
RINGS = load_plan(PLAN)
CHECKS = [(RINGS, RINGS.checks[0]), *((BUILD, check) for check in BUILD.checks)]


@pytest.mark.parametrize(("plan", "check"), CHECKS, ids=lambda one: one.name)
def test_twenty_phrases_hold_every_number_word_and_the_commands_that_matter_most(plan, check) -> None:
    listening = listen_for(plan, check)
    phrases = phrases_to_read(listening, check, 20, seed=1)
    assert len(phrases) == len({phrase.text for phrase in phrases}) <= 20
    words = {word for phrase in phrases for word in phrase.words}
    if check.rule is not Rule.TICK:
        assert len(phrases) == 20
        assert NUMBER_WORDS & set(listening.automaton.words) - words == set()
    texts = {phrase.text for phrase in phrases}
    important = {
        "disregard",
        "affirm",
        "negative",
        "stand by",
        "go ahead",
        "say again",
        "read back",
        "finish",
    }
    assert important <= texts
    assert not texts & set(not_read(listening, check, phrases))


@pytest.mark.parametrize(("plan", "check"), CHECKS, ids=lambda one: one.name)
def test_each_phrase_may_be_said_and_its_row_expects_just_what_it_means(plan, check) -> None:
    listening = listen_for(plan, check)
    for phrase in phrases_to_read(listening, check, 30, seed=2):
        assert listening.automaton.accepts(phrase.words)
        (meaning,) = meanings(phrase.words, listening.automaton, listening.context)
        assert meaning.sure
        (command,) = meaning.commands
        expected = phrase.row("a.flac", "me").expected()
        assert expected is not None
        assert same_command(expected, command), phrase.text


def test_more_phrases_hold_every_command() -> None:
    check = RINGS.checks[0]
    listening = listen_for(RINGS, check)
    left = not_read(listening, check, phrases_to_read(listening, check, 20, seed=1))
    assert left
    assert not not_read(listening, check, phrases_to_read(listening, check, 20 + len(left), seed=1))
    assert "done" not in left  # nothing is ticked at this check


def test_the_seed_decides_what_is_read() -> None:
    check = RINGS.checks[0]
    listening = listen_for(RINGS, check)
    first, again, other = (phrases_to_read(listening, check, 20, seed) for seed in (1, 1, 2))
    assert first == again
    assert first != other


def test_few_phrases_are_as_many_as_were_asked_for() -> None:
    check = RINGS.checks[0]
    listening = listen_for(RINGS, check)
    for count in (1, 3, 8):
        assert len(phrases_to_read(listening, check, count, seed=1)) == count
