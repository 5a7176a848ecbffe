"""Going about the session: places, next and previous, checks, ticks, what is left, the end."""

from __future__ import annotations

import pytest

from handsfree.journal import Kind

pytestmark = pytest.mark.quick


def place(talk) -> str:
    return " ".join(label for _, label in talk.session.position.labels)


@pytest.mark.parametrize(
    ("words", "then", "answer"),
    [
        ("cylinder two second", "2 second", "Now two second."),
        ("cylinder two", "2 top", "Now two top."),
        ("second", "1 second", "Now one second."),
        ("cylinder one top", "1 top", "Now one top."),
    ],
)
def test_a_place_is_gone_to_and_what_was_not_said_stays(talk, words, then, answer):
    exchange = talk.say(words)
    assert exchange.reply.text == answer
    assert place(talk) == then
    assert [event.kind for event in exchange.events] == [Kind.MOVE]


def test_a_place_that_was_measured_tells_its_last_reading(talk):
    talk.say("cylinder two top fifteen")
    talk.say("cylinder one")
    assert talk.say("cylinder two").reply.text == "Now two top. Last was fifteen."


def test_next_goes_to_open_places_only_and_round_again(talk):
    talk.say("cylinder one second eighteen")  # good: goes on to two top
    talk.say("cylinder one top")
    found = []
    for _ in range(4):
        talk.say("next")
        found.append(place(talk))
    assert found == ["2 top", "2 second", "1 top", "2 top"]


def test_next_at_the_only_open_place_says_that_there_is_no_more(talk):
    for words in (
        "cylinder one second eighteen",
        "cylinder two top eighteen",
        "cylinder two second eighteen",
    ):
        talk.say(words)
    assert place(talk) == "1 top"
    exchange = talk.say("next")
    assert exchange.reply.text == "No more after one top. Say check side clearance to go on."
    assert exchange.events == ()


def test_previous_goes_back_place_by_place_whether_open_or_not(talk):
    talk.say("cylinder two top eighteen")
    talk.say("cylinder two second")
    found = []
    for _ in range(4):
        talk.say("previous")
        found.append(place(talk))
    assert found == ["2 top", "1 second", "1 top", "1 top"]


def test_a_short_or_over_place_is_still_open(talk):
    elsewhere = ", and more in side clearance and washed."
    rest = "all of cylinder two; one second"
    talk.say("fifteen")
    assert talk.say("what's left").reply.text == f"Four left: {rest}; one top to file{elsewhere}"
    talk.say("twenty five")
    assert talk.say("what's left").reply.text == f"Four left: {rest}; one top over{elsewhere}"
    talk.say("eighteen")
    assert talk.say("what's left").reply.text == f"Three left: {rest}{elsewhere}"


def test_a_check_is_gone_to_and_its_place_kept_for_coming_back(talk):
    talk.say("cylinder two top")
    assert talk.say("check washed").reply.text == ("Washed. Count tools out. Cylinder one.")
    talk.say("next")
    assert talk.say("check ring gaps").reply.text == "Ring gaps. Two top."
    assert talk.say("check washed").reply.text == "Washed. Cylinder two."


def test_ticks_go_on_by_themselves_and_can_be_taken_away(talk):
    talk.say("check washed")
    talk.say("done")
    assert place(talk) == "2"
    assert talk.say("done").reply.text == ("Cylinder two, done. All measured. Say check ring gaps.")
    assert (
        talk.say("what's left").reply.text == "Nothing left here. Still open: ring gaps and side clearance."
    )
    assert place(talk) == "2"
    exchange = talk.say("not done")
    assert [event.kind for event in exchange.events] == [Kind.TICK]
    assert talk.say("what's left").reply.text.startswith("One left: cylinder two, and more in ring gaps")
    assert talk.log() == ["1: done", "2: done", "2: not done"]


def test_affirm_ticks_but_not_while_something_was_to_be_said_again(talk):
    talk.say("check washed")
    talk.mumble()
    assert talk.say("affirm").events == ()
    talk.say("cylinder one")
    assert [event.kind for event in talk.say("affirm").events] == [Kind.TICK, Kind.MOVE]


def test_disregarding_a_tick_names_it(talk):
    talk.say("check washed")
    talk.say("done")
    assert talk.say("disregard").reply.text == "Disregarded: cylinder one."
    assert talk.log() == ["1: done (voided)"]
    assert place(talk) == "1"


def test_negative_takes_back_the_tick_just_made(talk):
    talk.say("check washed")
    talk.say("done")
    talk.say("negative")
    assert talk.log() == ["1: done (voided)"]


@pytest.mark.parametrize("first", ["finish", "affirm"])
def test_one_word_never_closes_the_sheet(talk, first):
    talk.say(first)
    assert not talk.session.finished
    assert Kind.FINISHED not in talk.kinds()


def test_two_words_close_the_sheet(talk):
    talk.say("finish")
    talk.say("affirm")
    assert talk.session.finished


@pytest.mark.parametrize("between", ["fifteen", "next", "negative", "disregard", "stand by", "check washed"])
def test_a_word_between_finish_and_affirm_keeps_the_sheet_open(talk, between):
    talk.say("finish")
    talk.say(between)
    talk.say("go ahead")
    talk.say("affirm")
    assert not talk.session.finished


def test_affirm_after_an_answer_to_something_else_asks_again_before_it_closes_the_sheet(talk):
    talk.say("finish")
    talk.say("what's left")
    exchange = talk.say("affirm")
    assert exchange.reply.text.endswith("Finish all the same? Yes or no.")
    assert not talk.session.finished
    talk.say("affirm")
    assert talk.session.finished


def test_a_complete_sheet_is_closed_without_a_list_of_what_is_open(talk):
    for words in ("eighteen", "nineteen", "eighteen", "nineteen"):
        talk.say(words)
    assert talk.say("finish").reply.text == (
        "Still open: side clearance and washed. Finish all the same? Yes or no."
    )
    talk.say("negative")
    assert talk.say("check side clearance").reply.text == (
        "Side clearance. In millimetres. Hands clear of the crank. Cylinder one."
    )
    for words in ("point zero five", "point zero five", "check washed", "done", "done"):
        talk.say(words)
    assert talk.say("finish").reply.text == "Finish? Yes or no."
    assert talk.say("affirm").reply.text == "Finished. Eight logged."


def test_a_reading_after_the_end_is_logged_all_the_same(talk):
    talk.say("finish")
    talk.say("affirm")
    talk.say("eighteen")
    assert talk.log() == ["1 top: 18 thou"]
