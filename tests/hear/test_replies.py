"""Listening for the replies to a question first, with recordings of several voices."""

from __future__ import annotations

from pathlib import Path

import pytest

from handsfree.hear import read_sound, utterances
from handsfree.hear.ears import phrase_recogniser
from handsfree.hear.heard import HearsReplies
from handsfree.hear.phrase_model import PhraseModel
from handsfree.plan import load_plan
from handsfree.understand import Replies, listen_for, phrases_of

ROOT = Path(__file__).parents[2]
FIXTURES = ROOT / "audio_fixtures"
PLAN = load_plan(ROOT / "demo" / "plan.toml")
THIRTY_FOUR = ["kokoro-bm_george/17.ogg", "kokoro-bm_george/18.ogg"]


@pytest.fixture(scope="module")
def listening():
    return listen_for(PLAN, PLAN.checks[0])


@pytest.fixture(scope="module")
def recogniser(listening):
    return phrase_recogniser(listening, PhraseModel())


@pytest.fixture(scope="module")
def words(listening):
    rules = ("answer", "say_again", "disregard", "stand_by")
    return frozenset().union(*(phrases_of(listening.grammar.compile(rule)) for rule in rules))


def asked_about(*values) -> str:
    """A question's id; no two questions have the same."""
    return " or ".join(values)


@pytest.fixture
def hear(recogniser, words):
    """Hear a fixture as the answer to a question about some values."""

    def heard(name, *values):
        said = {tuple(f"{value}{unit}".split()) for value in values for unit in ("", " thou", " thousandths")}
        [utterance] = utterances(read_sound(FIXTURES / name))
        return recogniser.hear_reply(utterance, Replies(asked_about(*values), words | said))

    return heard


def test_the_embedded_recogniser_hears_replies(recogniser):
    assert isinstance(recogniser, HearsReplies)


@pytest.mark.parametrize("name", THIRTY_FOUR)
def test_candidate_that_is_said_is_found_among_the_replies(hear, name):
    hearing = hear(name, "thirty four", "thirty five")
    assert hearing.asked == asked_about("thirty four", "thirty five")
    assert hearing.words[:2] == ("thirty", "four")


@pytest.mark.parametrize("name", THIRTY_FOUR)
@pytest.mark.parametrize("others", [("thirty five",), ("forty", "thirty"), ("thirty three", "twenty four")])
def test_value_that_is_no_candidate_is_not_forced_onto_one(hear, name, others):
    """A wrong number is the worst: the whole grammar hears it, for what it is."""
    hearing = hear(name, *others)
    assert hearing.asked is None
    assert hearing.words[:2] == ("thirty", "four")


@pytest.mark.parametrize(
    ("name", "word"),
    [
        ("kokoro-af_bella/28.ogg", "affirm"),
        ("kokoro-am_michael/30.ogg", "affirm"),
        ("festival-ked/27.ogg", "affirm"),
        ("kokoro-bf_emma/30.ogg", "negative"),
        ("kokoro-af_sarah/26.ogg", "disregard"),
        ("flite-rms/29.ogg", "say again"),
    ],
)
def test_procedure_words_are_replies(hear, name, word):
    hearing = hear(name)
    assert hearing.asked == asked_about()
    assert " ".join(hearing.words) == word


@pytest.mark.parametrize("number", [32, 33, 34, 35])
@pytest.mark.parametrize("voice", ["kokoro-af_heart", "kokoro-am_puck", "pico-gb", "flite-kal16"])
def test_talk_is_no_reply(recogniser, words, voice, number):
    for utterance in utterances(read_sound(FIXTURES / voice / f"{number}.ogg")):
        assert recogniser.hear_reply(utterance, Replies(asked_about(), words)).asked is None


def test_the_next_question_has_replies_of_its_own(hear):
    assert hear(THIRTY_FOUR[0], "thirty four").asked == "thirty four"
    assert hear(THIRTY_FOUR[0], "forty").asked is None
    assert hear(THIRTY_FOUR[0], "thirty four").asked == "thirty four"
