"""Natural words at work: help, hints, questions about the work, trouble with a ring, corrections."""

from __future__ import annotations

import pytest

from handsfree.bench import HINT_PAUSE_S
from handsfree.hear import Hearing
from handsfree.record import Kind
from handsfree.speak import SILENCE, VoiceChange
from handsfree.understand import Decision, Near, Outcome

pytestmark = pytest.mark.quick


def hinted(talk, at_s: float, near: Near | None = None):
    near = near or Near(said="Put down sixteen.")
    hearing = Hearing((), at_s - 1, at_s, "test", free=near.said)
    return talk.bench.heard(hearing, Decision(Outcome.ASK, near=near))


def test_a_hint_is_one_phrase_that_is_understood_here(talk):
    exchange = hinted(talk, 1.0)
    assert exchange.reply.text == "Say: one top, eighteen."
    assert exchange.words == "Put down sixteen."
    assert exchange.events == ()
    assert talk.say("one top eighteen").events[0].kind is Kind.READING


def test_no_two_hints_come_close_together(talk):
    assert hinted(talk, 1.0).reply is not SILENCE
    assert hinted(talk, 0.9 + HINT_PAUSE_S).reply is SILENCE
    assert hinted(talk, 1.1 + HINT_PAUSE_S).reply is not SILENCE
    assert hinted(talk, 2.0).reply is not SILENCE  # another stream: it began anew


def test_a_place_that_is_not_there_is_named(talk):
    assert hinted(talk, 1.0, Near(missing=("cylinder", "9"))).reply.text == "There is no cylinder nine."


def test_what_is_not_understood_while_a_question_is_open_puts_it_again(talk):
    asked = talk.say("eighteen five").reply.text
    assert hinted(talk, 1.0).reply.text == asked
    talk.say("yes")
    assert talk.log() == ["1 top: 18.5 thou"]


def test_no_hint_while_standing_by(talk):
    talk.say("stand by")
    assert hinted(talk, 1.0).reply is SILENCE


def test_help_names_phrases_that_are_understood(talk):
    text = talk.say("help").reply.text
    assert text == "Say: one top, eighteen. Or undo, what's left, how much to go, skip, finish."
    for phrase in ("undo", "what's left", "how much to go", "skip", "finish"):
        assert talk.say(phrase).reply is not SILENCE


def test_help_at_ticks_says_done(talk):
    talk.say("check washed")
    assert talk.say("help").reply.text.startswith("Say: done.")


def test_how_much_to_go_tells_what_is_left_here(talk):
    assert talk.say("how much to go").reply.text == "One top, to eighteen."
    talk.say("sixteen")
    assert talk.say("how much to go").reply.text == "One top, two to go."
    talk.say("twenty one")
    assert talk.say("how much to go").reply.text == "One top is over."
    talk.say("cylinder two top eighteen")
    talk.say("cylinder two top")
    assert talk.say("how much more").reply.text == "Two top is good."


def test_what_was_tells_what_counts_there_and_nothing_moves(talk, at):
    talk.say("cylinder two top sixteen")
    assert talk.say("what was two top").reply.text == "Two top, sixteen thou."
    assert talk.say("what was one top").reply.text == talk.key("1*1*.").reply.text
    assert talk.session.position == at(2, "top")


def test_where_next_and_target_log_nothing(talk):
    before = len(talk.journal.events())
    assert talk.say("where am i").reply.text == "One top, to eighteen."
    assert talk.say("target").reply.text == "One top, to eighteen."
    assert talk.say("what's next").reply.text == "Next, one second."
    assert len(talk.journal.events()) == before


def test_a_new_ring_begins_anew_and_its_readings_stay_in_the_log(talk, at):
    talk.say("fourteen")
    talk.say("sixteen")
    exchange = talk.say("broke a ring")
    assert exchange.reply.text == "New ring, one top. It begins anew."
    assert talk.log() == ["1 top: 14 thou (voided)", "1 top: 16 thou (voided)"]
    assert [event.draft.note for event in exchange.events] == ["new ring; said: broke a ring"] * 3
    assert talk.session.position == at(1, "top")
    assert talk.session.current("ring gaps", at(1, "top")) is None
    assert talk.say("fourteen").reply.text == "One top, fourteen. File four."  # a gap that only grows, anew


def test_a_new_ring_elsewhere_is_gone_to(talk, at):
    talk.say("cylinder two top fourteen")
    talk.say("cylinder one top")
    talk.say("new ring on two top")
    assert talk.session.position == at(2, "top")
    assert talk.log() == ["2 top: 14 thou (voided)"]


def test_a_new_ring_by_key(talk):
    talk.say("fourteen")
    assert talk.key("0..").reply.text == "New ring, one top. It begins anew."


def test_a_switch_goes_to_the_first_open_place_of_its_kind(talk, at):
    talk.say("cylinder one second eighteen")
    talk.say("switch to seconds")
    assert talk.session.position == at(2, "second")
    talk.say("done with the seconds")
    assert talk.session.position == at(1, "top")


@pytest.mark.parametrize(
    "words", ["a hair over eighteen", "about eighteen", "sixteen and a bit", "eighteen or so"]
)
def test_a_size_that_is_none_is_never_logged(talk, words):
    assert talk.say(words).reply.text == "Say the leaf that drags, or: seventeen goes, eighteen doesn't."
    assert talk.say("yes").reply is SILENCE
    assert talk.log() == []


@pytest.mark.parametrize(
    "words", ["no sixteen", "make that sixteen", "i said sixteen", "not fourteen sixteen"]
)
def test_a_slip_is_put_right_in_ordinary_words(talk, words):
    talk.say("fourteen")
    talk.say(words)
    assert talk.log() == ["1 top: 14 thou (corrected)", "1 top: 16 thou"]


def test_a_correction_of_another_value_than_the_last_is_asked_about(talk):
    talk.say("fourteen")
    assert talk.say("not eighteen sixteen").reply.text == "One top, sixteen? Yes or no."
    assert talk.log() == ["1 top: 14 thou"]


def test_a_value_said_once_more_after_the_work_went_on_is_asked_about(talk):
    """It may be a reading of the next place that wasn't heard."""
    talk.say("eighteen")
    assert talk.say("i said seventeen").reply.text == "One top, seventeen? Yes or no."
    assert talk.log() == ["1 top: 18 thou"]


def test_a_value_said_once_more_long_after_is_a_reading(talk):
    talk.say("fourteen")
    talk.say("cylinder two top")
    talk.say("i said sixteen")
    assert talk.log() == ["1 top: 14 thou", "2 top: 16 thou"]


def test_no_with_a_value_answers_the_open_question(talk):
    talk.say("fourteen")
    talk.say("cylinder two top eighteen five")
    talk.say("no eighteen")
    assert talk.log() == ["1 top: 14 thou", "2 top: 18 thou"]


@pytest.mark.parametrize("change", list(VoiceChange))
def test_the_voice_is_told_to_change(talk, change):
    reply = talk.say(change.value).reply
    assert (reply.text, reply.change) == (f"{change.value.capitalize()}.", change)


@pytest.mark.parametrize("words", ["yes", "okay", "no", "carry on"])
def test_ordinary_answers_to_no_question_are_talk(talk, words):
    assert talk.say(words).reply is SILENCE


def test_affirm_is_taken_where_confirm_seems_likelier_and_a_question_is_open(talk):
    talk.say("eighteen five")
    talk.say("confirm", margin=1.0, others=[("affirm", 1.0)])
    assert talk.log() == ["1 top: 18.5 thou"]


def test_while_standing_by_only_going_ahead_is_listened_for(talk):
    talk.say("stand by")
    talk.say("go on", margin=0.1, others=[("go one", 0.1), ("next", 0.2)])
    assert not talk.session.standing_by
    talk.say("stand by")
    assert talk.say("sixteen").reply.text.startswith("Standing by.")
    assert talk.say("next").reply is SILENCE
