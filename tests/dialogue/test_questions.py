"""Questions between a few meanings: what is asked, and which words settle it."""

from __future__ import annotations

import pytest

from handsfree.journal import Journal, Kind
from handsfree.planfile import parse_plan
from handsfree.speak import Tone
from tests.dialogue.talk import PLAN_TEXT, Clock, Talk

pytestmark = pytest.mark.quick


def ask_value(talk):
    """Fifteen or fifty? Both are heard as close."""
    return talk.say("cylinder two top thirteen", margin=0.5, others=[("cylinder two top thirty", 0.5)])


def ask_place(talk):
    return talk.say("cylinder one top sixteen", margin=0.5, others=[("cylinder two top sixteen", 0.5)])


def test_the_part_in_doubt_is_asked_about(talk):
    assert ask_value(talk).reply.text == "Two top, thirteen, or thirty?"
    assert ask_value(talk).reply.expects == ("thirteen", "thirty")
    assert ask_place(talk).reply.text == "Cylinder one, or two?"
    assert talk.log() == []


@pytest.mark.parametrize("words", ["thirty", "thirty thou", "cylinder two top thirty"])
def test_a_value_settles_which_value_was_meant(talk, words):
    ask_value(talk)
    exchange = talk.say(words)
    assert [event.kind for event in exchange.events] == [Kind.READING]
    assert talk.log() == ["2 top: 30 thou"]


@pytest.mark.parametrize("words", ["cylinder two", "two", "cylinder two top", "cylinder two top sixteen"])
def test_a_place_or_its_label_settles_which_place_was_meant(talk, words):
    ask_place(talk)
    talk.say(words)
    assert talk.log() == ["2 top: 16 thou"]


def test_a_ring_settles_which_ring_was_meant(talk):
    exchange = talk.say("cylinder two top sixteen", margin=0.5, others=[("cylinder two second sixteen", 0.5)])
    assert exchange.reply.text == "Top, or second?"
    talk.say("second")
    assert talk.log() == ["2 second: 16 thou"]


def test_a_label_settles_the_place_even_where_it_is_the_value_too():
    """Asked whether cylinder one or two, about a value of two: "two" names the cylinder."""
    text = PLAN_TEXT.replace('unit = "mm"', 'unit = "thou"').replace('aim = "0.05 mm"', 'aim = "2 thou"')
    plan = parse_plan(text.replace("0.02 mm", "1 thou"))
    talk = Talk(plan, Journal.in_memory(clock=Clock()))
    talk.say("check side clearance")
    words = "cylinder {} is two thou"
    talk.say(words.format("one"), margin=0.5, others=[(words.format("two"), 0.5)])
    talk.say("two")
    assert talk.log() == ["2: 2 thou"]


def test_a_reply_that_leaves_the_place_open_asks_again_and_logs_nothing(talk):
    ask_place(talk)
    for words in ("sixteen", "seventeen", "seventeen goes eighteen stops", "top", "affirm"):
        exchange = talk.say(words)
        assert exchange.reply.text == "Cylinder one, or two?", words
        assert exchange.events == ()
    assert talk.log() == []


def test_affirm_to_an_either_or_is_no_answer(talk):
    ask_value(talk)
    exchange = talk.say("affirm")
    assert exchange.reply.text == "Two top, thirteen, or thirty?"
    assert talk.log() == []


def test_negative_to_an_either_or_asks_anew_at_that_place(talk, at):
    ask_value(talk)
    assert talk.say("negative").reply.text == "Not that, then. Say it again."
    assert talk.session.position == at(2, "top")
    assert talk.say("affirm").reply.text == "Nothing was asked."


def test_negative_to_a_doubtful_place_moves_nowhere(talk, at):
    ask_place(talk)
    talk.say("negative")
    assert talk.session.position == at(1, "top")
    assert talk.log() == []


def test_a_third_value_in_reply_belongs_to_the_place_that_was_asked_about(talk):
    ask_value(talk)
    talk.say("fifteen")
    assert talk.log() == ["2 top: 15 thou"]


def test_an_unclear_third_value_in_reply_is_asked_about_at_that_place(talk):
    ask_value(talk)
    exchange = talk.say("fifteen", margin=0.5, others=[("fourteen", 0.5)])
    assert exchange.reply.text == "Two top, fifteen, or fourteen?"
    talk.say("fifteen")
    assert talk.log() == ["2 top: 15 thou"]


def test_two_leaves_in_reply_belong_to_the_place_that_was_asked_about(talk):
    ask_value(talk)
    talk.say("fifteen goes sixteen stops")
    assert talk.log() == ["2 top: over 15 thou to 16 thou"]


def test_an_unclear_single_meaning_is_put_as_a_yes_or_no(talk):
    exchange = talk.say("cylinder two top sixteen", margin=0.5)
    assert exchange.reply.text == "Two top, sixteen? Yes or no."
    talk.say("affirm")
    assert talk.log() == ["2 top: 16 thou"]


def test_a_shorthand_is_put_as_a_yes_or_no(talk):
    assert talk.say("eighteen five").reply.text == "One top, eighteen and a half? Yes or no."
    assert talk.log() == []
    talk.say("eighteen and a half")
    assert talk.log() == ["1 top: 18.5 thou"]


def test_two_ways_to_the_same_reading_are_one_yes_or_no(talk):
    """Or affirm could never choose between them."""
    talk.say("eighteen and a half", margin=0.5, others=[("eighteen five", 0.3)])
    exchange = talk.say("affirm")
    assert talk.log() == ["1 top: 18.5 thou"]
    assert exchange.events[0].kind is Kind.READING


@pytest.mark.parametrize(
    ("best", "others"),
    [
        ("correction", []),
        ("cylinder one top sixteen", ["cylinder two second sixteen"]),  # two axes differ
        ("cylinder one top sixteen", ["cylinder two top seventeen"]),  # place and value
        ("no go sixteen", ["go sixteen"]),
        ("sixteen", ["disregard"]),
        ("sixteen", ["correction sixteen"]),
        ("sixteen", ["sixteen and a half", "fifteen", "fourteen"]),  # more than can be held in the head
        ("cylinder one top sixteen cylinder two top sixteen", []),
    ],
)
def test_what_cannot_be_put_shortly_is_said_again(talk, best, others):
    exchange = talk.say(best, margin=0.5, others=[(other, 0.5) for other in others])
    assert exchange.reply.text == "Say again?"
    assert exchange.reply.tone is Tone.AGAIN
    assert [event.kind for event in exchange.events] == [Kind.ASKED]
    assert talk.say("affirm").reply.text == "Nothing was asked."
    assert talk.log() == []


def test_three_candidates_are_still_named(talk):
    exchange = talk.say("sixteen", margin=0.5, others=[("thirty", 0.5), ("fifteen", 0.5)])
    assert exchange.reply.text == "Sixteen, or thirty, or fifteen?"
    talk.say("fifteen")
    assert talk.log() == ["1 top: 15 thou"]


def test_a_question_about_a_correction_corrects_when_it_is_settled(talk):
    talk.say("eighteen")
    exchange = talk.say("correction thirteen", margin=0.5, others=[("correction thirty", 0.5)])
    assert exchange.reply.text == "Thirteen, or thirty?"
    talk.say("thirty")
    assert talk.log() == ["1 top: 18 thou (corrected)", "1 top: 30 thou"]


def test_an_unclear_value_after_correction_corrects_when_it_is_settled(talk):
    talk.say("eighteen")
    talk.say("correction")
    exchange = talk.say("sixteen", margin=0.5)
    assert exchange.reply.text == "One top, sixteen? Yes or no."
    talk.say("affirm")
    assert talk.log() == ["1 top: 18 thou (corrected)", "1 top: 16 thou"]


def test_a_mumble_leaves_a_question_about_a_value_open(talk):
    ask_value(talk)
    assert talk.mumble().events == ()
    talk.say("thirty")
    assert talk.log() == ["2 top: 30 thou"]


def test_chatter_leaves_a_question_open(talk):
    ask_value(talk)
    talk.chatter()
    talk.say("thirty")
    assert talk.log() == ["2 top: 30 thou"]


def test_a_candidate_that_is_chosen_is_not_doubted_again(talk):
    """Whoever answers "thirteen, or thirty?" with thirty has been asked already."""
    talk.say("thirteen", margin=0.5, others=[("thirty", 0.5)])
    assert talk.say("thirty").events[0].kind is Kind.READING


def test_say_again_repeats_the_question(talk):
    ask_value(talk)
    assert talk.say("say again").reply.text == "Two top, thirteen, or thirty?"
    talk.say("thirty")
    assert talk.log() == ["2 top: 30 thou"]


def test_a_question_is_forgotten_after_a_stop(talk_in):
    first = talk_in()
    ask_value(first)
    first.journal.close()
    second = talk_in()
    assert second.say("affirm").reply.text == "Nothing was asked."
    second.say("thirty")
    assert second.log() == ["1 top: 30 thou"]


def test_what_can_not_be_true_is_not_offered(talk):
    """A gap of nineteen times what is aimed at, or of a twentieth."""
    exchange = talk.say("eighteen", margin=0.5, others=[("eighty", 0.5), ("one", 0.6)])
    assert exchange.reply.text == "One top, eighteen? Yes or no."


def test_words_that_are_right_and_only_unsure_are_put_as_a_yes_or_no(talk, at):
    exchange = talk.say("cylinder two top", margin=0.5)
    assert exchange.reply.text == "Two top? Yes or no."
    assert talk.session.position == at(1, "top")
    assert talk.say("yes").reply.text == "Now two top."
    assert talk.session.position == at(2, "top")
    assert talk.say("affirm").reply.text == "Nothing was asked."


def test_no_to_an_unsure_command_does_nothing(talk):
    talk.say("sixteen")
    talk.say("disregard", margin=0.5)
    assert talk.say("no").reply.text == "Not that, then. Say it again."
    assert talk.log() == ["1 top: 16 thou"]


def test_say_again_is_never_said_twice_in_a_row_alike(talk):
    """The second time it tells what it heard, the third it offers the keys."""
    texts = [talk.say("correction", margin=0.5).reply.text for _ in range(3)]
    assert texts[:2] == ["Say again?", "I heard: correction. Say it again."]
    assert "key it" in texts[2]
