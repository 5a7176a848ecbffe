"""Speakers of AN4 (Carnegie Mellon University) saying numbers that are readings here: sound to command.

The corpus says what was said; which command those words are is the grammar's own reading of them. Only
speakers of the splits train and choose: what is for judging is no test of every day.
"""

from __future__ import annotations

import pytest

from handsfree.commands.hearing import hear_one
from handsfree.hear.adapt.splits import CHOOSE, TRAIN, Recorded
from handsfree.hear.ears import Choice, Ear, Ears
from handsfree.hear.heard import SAMPLERATE_HZ, Utterance
from handsfree.hear.sound import read_sound
from handsfree.plan import load_plan
from handsfree.understand import Meaning, Outcome, meanings
from tests.bench.accuracy import ROOT
from tests.bench.speakers import SPEECH, no_speech, numbers

pytestmark = pytest.mark.skipif(no_speech(SPEECH) is not None, reason=str(no_speech(SPEECH)))


@pytest.fixture(scope="module")
def ear() -> Ear:
    plan = load_plan(ROOT / "demo" / "plan.toml")
    return Ears(plan, Choice.PHRASE).ear(plan.checks[0].name)


def readings(ear: Ear) -> list[tuple[Recorded, tuple[Meaning, ...]]]:
    """The recordings whose words are a phrase of the grammar, with what they mean there."""
    said = [one for split in (TRAIN, CHOOSE) for one in numbers(SPEECH, split)]
    meant = [
        (one, meanings(tuple(one.text.split()), ear.listening.automaton, ear.listening.context))
        for one in said
    ]
    return [(one, found) for one, found in meant if found]


def test_numbers_of_people_become_the_commands_that_their_words_are(ear: Ear) -> None:
    found = readings(ear)
    assert len(found) >= 7  # "thirty", "one oh six", "six three eight", which is to be asked about
    right, wrong = 0, {}
    for one, meant in found:
        samples = read_sound(one.path)
        utterance = Utterance(samples, 0.0, len(samples) / SAMPLERATE_HZ)
        _, decision = hear_one(ear, utterance)
        sure = len(meant) == 1 and meant[0].sure
        if decision.outcome is Outcome.ACCEPT and not (sure and decision.meaning == meant[0]):
            wrong[one.text] = decision.meaning
        right += decision.meanings[: len(meant)] == meant
    assert not wrong
    assert right >= len(found) - 2
