"""Which words are listened for while a question is open, and what becomes of a reply."""

from __future__ import annotations

import pytest

from handsfree.dialogue import replies_to
from handsfree.hear import Hearing
from handsfree.understand import Outcome
from tests.dialogue.talk import listening_for

pytestmark = pytest.mark.quick

VALUES = ("cylinder two top thirteen and a half", "cylinder two top thirty")
PLACES = ("cylinder one top sixteen", "cylinder two top sixteen")


def ask(talk, texts):
    return talk.say(texts[0], margin=0.5, others=[(text, 0.5) for text in texts[1:]])


def replies(talk):
    found = replies_to(talk.session, listening_for(talk.plan, talk.session.check))
    return None if found is None else {" ".join(words) for words in found.phrases}


def test_without_a_question_there_are_no_replies(talk):
    assert replies(talk) is None
    talk.say("eighteen")
    assert replies(talk) is None


def test_after_say_again_anything_may_come(talk):
    talk.mumble()
    assert replies(talk) is None


def test_after_correction_any_size_may_come(talk):
    talk.say("eighteen")
    talk.say("correction")
    assert replies(talk) is None


def test_values_in_doubt_are_listened_for_short_and_long(talk):
    ask(talk, VALUES)
    found = replies(talk)
    assert {"thirteen and a half", "thirteen point five thou", "thirty", "three zero"} <= found
    assert "cylinder two top thirty thou" in found


def test_values_that_are_not_in_doubt_are_not_among_the_replies(talk):
    ask(talk, VALUES)
    assert not {"thirteen", "thirty and a half", "fifty", "cylinder one top thirty"} & replies(talk)


def test_places_in_doubt_are_listened_for_by_their_label_too(talk):
    ask(talk, PLACES)
    found = replies(talk)
    assert {"one", "two", "cylinder two", "cylinder two top", "cylinder two top sixteen"} <= found
    assert not {"top", "sixteen", "three", "cylinder two second"} & found


def test_procedure_words_are_always_among_the_replies(talk):
    wanted = {"affirm", "yes", "no", "negative", "disregard", "say again", "stand by"}
    for put in (lambda: ask(talk, VALUES), lambda: ask(talk, PLACES), lambda: talk.say("finish")):
        put()
        assert wanted <= replies(talk)
        assert not {"confirm", "roger", "correction"} & replies(talk)  # they sound like an answer


def test_to_the_question_of_finishing_only_procedure_words_are_replies(talk):
    talk.say("finish")
    assert not {"sixteen", "one", "cylinder one", "top"} & replies(talk)


def test_each_reply_is_a_phrase_of_the_check_and_settles_one_candidate(talk):
    """So that what was found among the replies means what it means anywhere."""
    listening = listening_for(talk.plan, talk.session.check)
    for texts in (VALUES, PLACES, PLACES[:1]):
        ask(talk, texts)
        found = replies_to(talk.session, listening)
        assert all(listening.automaton.accepts(words) for words in found.phrases)
        talk.say("disregard")


class TestBench:
    """A bench whose recogniser hears a reply."""

    def reply(self, talk, words, asked):
        split = tuple(words.split())
        hearing = Hearing(split, 0.0, 1.0, "test", fit=-0.2, margin=3.0, asked=asked)
        decision = talk.bench.weigh(hearing)
        return decision, talk.bench.heard(hearing, decision)

    @pytest.fixture(autouse=True)
    def ears(self, talk):
        class One:
            def ear(self, check):
                return type("Ear", (), {"listening": listening_for(talk.plan, check), "thresholds": None})

        talk.bench._ears = One()

    def test_found_reply_settles_its_question(self, talk):
        ask(talk, VALUES)
        decision, _ = self.reply(talk, "thirty", talk.session.asked.id)
        assert decision.outcome is Outcome.ACCEPT
        assert talk.log() == ["2 top: 30 thou"]

    def test_reply_to_a_question_that_was_settled_by_key_meanwhile_logs_nothing(self, talk):
        ask(talk, VALUES)
        asked = talk.session.asked.id
        talk.key("2*1*30")
        decision, _ = self.reply(talk, "thirteen and a half", asked)
        assert decision.outcome is Outcome.ASK
        assert talk.log() == ["2 top: 30 thou"]

    def test_reply_to_an_older_question_is_not_taken_for_the_one_that_is_open(self, talk):
        ask(talk, VALUES)
        asked = talk.session.asked.id
        talk.say("disregard")
        ask(talk, ("thirteen and a half", "thirty"))
        decision, _ = self.reply(talk, "thirty", asked)
        assert decision.outcome is Outcome.ASK
        assert talk.log() == []
