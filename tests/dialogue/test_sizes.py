"""Sizes: logged where they belong, judged as `judge` does, corrected, taken back, asked about."""

from __future__ import annotations

import pytest

from handsfree.journal import Kind
from handsfree.judge.reading import judge_reading
from handsfree.length import length

pytestmark = pytest.mark.quick


def kinds(exchange) -> list[Kind]:
    return [event.kind for event in exchange.events]


# --- a plain reading ----------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("words", "answer", "then"),
    [
        ("fifteen and a half", "One top, fifteen and a half. File two and a half.", "one top"),
        (
            "seventeen point nine nine",
            "One top, seventeen point nine nine. File zero point zero one thou.",
            "one top",
        ),
        ("eighteen", "One top, eighteen. Good. Next, one second.", "one second"),
        ("nineteen and a half", "One top, nineteen and a half. Good. Next, one second.", "one second"),
        (
            "nineteen point five one",
            "One top, nineteen point five one. Over by zero point zero one thou. "
            "Don't file; try it in another bore, or replace.",
            "one top",
        ),
    ],
)
def test_a_reading_at_and_around_the_limits_is_answered_with_what_is_left(talk, words, answer, then):
    assert talk.say(words).reply.text == answer
    assert " ".join(label if label != "1" else "one" for _, label in talk.session.position.labels) == then


@pytest.mark.parametrize(
    "words", ["fifteen", "eighteen", "nineteen and a half", "twenty", "point four five millimetres"]
)
def test_what_is_stored_is_what_the_judge_says(talk, plan, words):
    exchange = talk.say(words)
    draft = exchange.events[0].draft
    check = plan.check("ring gaps")
    verdict = judge_reading(check.target(draft.position), draft.value, check.rule, check.unit)
    assert draft.verdict == verdict.state.value
    assert draft.remaining == verdict.remaining


def test_a_reading_keeps_the_decimal_and_unit_that_were_said_and_how_it_was_heard(talk):
    draft = talk.say("zero point four five millimetres", fit=-0.25, margin=6.5).events[0].draft
    assert draft.value == length("0.45", "mm")
    assert str(draft.value.value) == "0.45"
    assert draft.heard.words == "zero point four five millimetres"
    assert (draft.heard.source, draft.heard.recogniser) == ("voice", "test")
    assert (draft.heard.fit, draft.heard.margin) == (-0.25, 6.5)


def test_a_keyed_reading_keeps_its_keys(talk):
    draft = talk.key("2*1*18.50").events[0].draft
    assert draft.heard.source == "keypad"
    assert draft.heard.words == "2*1*18.50"
    assert draft.value == length("18.5")


def test_a_named_place_takes_the_reading_and_the_work_goes_on_from_there(talk, at):
    talk.say("cylinder two top fifteen")
    assert talk.log() == ["2 top: 15 thou"]
    assert talk.session.position == at(2, "top")


def test_a_good_reading_goes_on_to_the_next_open_place_in_work_order_and_round_again(talk, at):
    talk.say("cylinder two second eighteen")
    assert talk.session.position == at(1, "top")
    for words in ("eighteen", "nineteen"):
        talk.say(words)
    assert talk.session.position == at(2, "top")
    assert (
        talk.say("eighteen").reply.text == "Two top, eighteen. Good. All measured. Say check side clearance."
    )
    assert talk.session.position == at(2, "top")


def test_a_place_that_was_good_and_is_measured_again_is_logged_again(talk):
    talk.say("eighteen")
    talk.say("cylinder one top nineteen")
    assert talk.log() == ["1 top: 18 thou", "1 top: 19 thou"]


def test_a_reading_in_a_check_of_ticks_is_not_logged(talk):
    talk.say("check washed")
    assert talk.say("eighteen").events == ()
    assert talk.log() == []


# --- implausible values -------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("words", "asked"),
    [("four", True), ("four and a half", False), ("forty five", False), ("forty five point one", True)],
)
def test_a_value_outside_its_window_is_asked_about_first(talk, words, asked):
    exchange = talk.say(words)
    assert (kinds(exchange)[0] is Kind.ASKED) is asked
    assert bool(talk.log()) is not asked


def test_an_implausible_bound_is_asked_about_too(talk):
    assert kinds(talk.say("no go ninety")) == [Kind.ASKED]
    assert talk.say("affirm").events[0].draft.bound == "under"


def test_affirm_logs_what_was_asked_about_as_it_was_said(talk):
    talk.say("cylinder two second ninety point two five")
    exchange = talk.say("affirm")
    assert talk.log() == ["2 second: 90.25 thou"]
    assert exchange.events[0].draft.heard.words == "affirm"


def test_saying_the_value_again_is_affirming_it(talk):
    talk.say("ninety")
    talk.say("ninety")
    assert talk.log() == ["1 top: 90 thou"]


def test_another_value_takes_the_place_of_the_one_in_doubt(talk):
    talk.say("cylinder two second ninety")
    talk.say("nineteen")
    assert talk.log() == ["2 second: 19 thou"]


def test_a_whole_new_reading_leaves_the_one_in_doubt_unlogged(talk):
    talk.say("cylinder two second ninety")
    talk.say("cylinder one second fifteen")
    assert talk.log() == ["1 second: 15 thou"]
    assert talk.say("affirm").reply.text == "Nothing was asked."


def test_naming_the_place_again_confirms_nothing(talk):
    talk.say("cylinder two second ninety")
    talk.say("cylinder two second")
    assert talk.log() == []
    assert talk.say("affirm").reply.text == "Nothing was asked."


def test_after_negative_the_next_bare_value_belongs_to_the_place_that_was_asked_about(talk, at):
    talk.say("cylinder two second ninety")
    exchange = talk.say("negative")
    assert kinds(exchange) == [Kind.VOID, Kind.MOVE]
    assert talk.session.position == at(2, "second")
    talk.say("nineteen")
    assert talk.log() == ["2 second: 19 thou"]


def test_affirm_after_another_answer_asks_the_question_again(talk):
    """Or a yes to the value just read back would log the one in doubt."""
    talk.say("fifteen")
    talk.say("ninety")
    talk.say("read back")
    exchange = talk.say("affirm")
    assert exchange.events == ()
    assert exchange.reply.text == "One top, ninety? Yes or no."
    talk.say("affirm")
    assert talk.log() == ["1 top: 15 thou", "1 top: 90 thou"]


def test_affirm_after_say_again_still_answers_the_question(talk):
    talk.say("ninety")
    assert talk.mumble().reply.text == "Say again?"
    talk.say("affirm")
    assert talk.log() == ["1 top: 90 thou"]


@pytest.mark.parametrize(
    "words", ["next", "cylinder two", "check washed", "stand by", "ten turns", "disregard", "negative"]
)
def test_whatever_leads_away_from_a_question_leaves_it_unlogged(talk, words):
    talk.say("ninety")
    talk.say(words)
    if words == "stand by":
        talk.say("go ahead")
    talk.say("check ring gaps")
    talk.say("affirm")
    assert talk.log() == []


# --- corrections --------------------------------------------------------------------------------


def test_a_correction_replaces_the_last_value_and_nothing_is_erased(talk):
    talk.say("fifteen")
    exchange = talk.say("correction sixteen")
    assert exchange.reply.text == "Corrected. One top, sixteen, was fifteen. File two."
    assert talk.log() == ["1 top: 15 thou (corrected)", "1 top: 16 thou"]
    assert talk.kinds() == [Kind.OPENED, Kind.READING, Kind.CORRECTION]


def test_a_correction_goes_to_its_own_place_though_the_work_went_on(talk, at):
    talk.say("eighteen")
    assert talk.session.position == at(1, "second")
    talk.say("correction seventeen")
    assert talk.log() == ["1 top: 18 thou (corrected)", "1 top: 17 thou"]
    assert talk.session.position == at(1, "top")


@pytest.mark.parametrize("value", ["sixteen", "cylinder one top sixteen"])
def test_correction_and_then_the_value_is_the_same_as_in_one_breath(talk, value):
    talk.say("eighteen")
    talk.say("correction")
    talk.say(value)
    assert talk.log() == ["1 top: 18 thou (corrected)", "1 top: 16 thou"]


def test_correction_and_then_two_leaves_goes_to_the_corrected_place(talk):
    talk.say("eighteen")
    talk.say("correction")
    talk.say("seventeen goes eighteen stops")
    assert talk.log() == ["1 top: 18 thou (corrected)", "1 top: over 17 thou to 18 thou"]


def test_a_correction_may_move_the_value_to_another_place(talk):
    talk.say("fifteen")
    talk.say("correction cylinder two second fifteen")
    assert talk.log() == ["1 top: 15 thou (corrected)", "2 second: 15 thou"]


def test_a_correction_of_a_correction(talk):
    for words in ("fifteen", "correction sixteen", "correction seventeen"):
        talk.say(words)
    assert talk.log() == ["1 top: 15 thou (corrected)", "1 top: 16 thou (corrected)", "1 top: 17 thou"]


def test_a_correction_reaches_back_into_the_check_where_it_was_logged(talk, at):
    talk.say("fifteen")
    talk.say("check side clearance")
    talk.say("correction sixteen thou")
    assert talk.log() == ["1 top: 15 thou (corrected)", "1 top: 16 thou"]
    assert talk.session.check == "ring gaps"
    assert talk.session.position == at(1, "top")


def test_a_corrected_leaf_is_felt_as_the_leaf_was_unless_said_anew(talk):
    talk.say("no go fifteen")
    talk.say("correction sixteen")
    talk.say("correction seventeen drag")
    assert talk.log() == [
        "1 top: under 15 thou (corrected)",
        "1 top: under 16 thou (corrected)",
        "1 top: 17 thou",
    ]


def test_an_implausible_correction_is_asked_about_first_with_its_own_place(talk):
    talk.say("eighteen")
    exchange = talk.say("correction ninety")
    assert kinds(exchange) == [Kind.ASKED]
    assert exchange.reply.text == "One top, ninety? Yes or no."
    talk.say("affirm")
    assert talk.log() == ["1 top: 18 thou (corrected)", "1 top: 90 thou"]


def test_another_value_in_answer_to_an_implausible_correction_corrects(talk):
    talk.say("eighteen")
    talk.say("correction ninety")
    talk.say("nineteen")
    assert talk.log() == ["1 top: 18 thou (corrected)", "1 top: 19 thou"]


def test_with_nothing_to_correct_the_value_is_a_reading_of_its_own_and_is_judged_like_one(talk):
    assert kinds(talk.say("correction fifteen")) == [Kind.READING]
    talk.say("disregard")
    assert kinds(talk.say("correction ninety")) == [Kind.ASKED]


def test_a_tick_is_not_corrected_by_a_value(talk):
    talk.say("check washed")
    talk.say("done")
    talk.say("check ring gaps")
    talk.say("correction fifteen")
    assert talk.log() == ["1: done", "1 top: 15 thou"]
    assert talk.session.results("washed")


def test_a_slip_in_one_breath_is_one_entry_that_keeps_what_was_taken_back(talk):
    exchange = talk.say("eighteen correction nineteen")
    assert talk.log() == ["1 top: 19 thou"]
    assert exchange.events[0].draft.data == {"withdrawn": "18 thou"}


# --- taking back --------------------------------------------------------------------------------


def test_disregard_voids_the_last_entry_says_what_stands_and_goes_back_there(talk, at):
    talk.say("fifteen")
    talk.say("eighteen")
    exchange = talk.say("disregard")
    assert exchange.reply.text == "Disregarded: one top, eighteen. Fifteen stands."
    assert talk.log() == ["1 top: 15 thou", "1 top: 18 thou (voided)"]
    assert talk.session.position == at(1, "top")
    assert exchange.events[0].draft.note == "said: disregard"


def test_disregard_again_and_again_goes_back_through_all_of_them(talk):
    for words in ("fifteen", "cylinder two top sixteen", "cylinder two second seventeen"):
        talk.say(words)
    for _ in range(3):
        talk.say("disregard")
    assert [line.endswith("(voided)") for line in talk.log()] == [True] * 3
    assert talk.say("disregard").reply.text == "Nothing to disregard."


def test_disregarding_a_correction_brings_back_what_it_corrected(talk):
    talk.say("fifteen")
    talk.say("correction sixteen")
    assert talk.say("disregard").reply.text == "Disregarded: one top, sixteen. Fifteen stands."
    assert talk.log() == ["1 top: 15 thou", "1 top: 16 thou (voided)"]


def test_disregarding_a_correction_that_had_moved_opens_the_place_it_had_moved_to(talk):
    talk.say("fifteen")
    talk.say("correction cylinder two top sixteen")
    assert talk.say("disregard").reply.text == "Disregarded: two top, sixteen. Two top is open again."
    assert talk.log() == ["1 top: 15 thou", "2 top: 16 thou (voided)"]


def test_disregarding_a_later_reading_does_not_bring_back_what_was_corrected_before(talk):
    for words in ("fifteen", "correction sixteen", "seventeen"):
        talk.say(words)
    assert talk.say("disregard").reply.text == "Disregarded: one top, seventeen. Sixteen stands."


def test_disregard_takes_a_question_away_before_it_takes_an_entry(talk):
    talk.say("fifteen")
    talk.say("ninety")
    talk.say("disregard")
    assert talk.log() == ["1 top: 15 thou"]
    talk.say("disregard")
    assert talk.log() == ["1 top: 15 thou (voided)"]


def test_disregard_after_correction_leaves_the_value_as_it_was(talk):
    talk.say("fifteen")
    talk.say("correction")
    assert talk.say("disregard").reply.text == "Left as it was."
    assert talk.log() == ["1 top: 15 thou"]
    talk.say("sixteen")  # a reading of its own again
    assert talk.log() == ["1 top: 15 thou", "1 top: 16 thou"]


def test_negative_after_a_read_back_withdraws_it_however_long_ago_it_was_logged(talk):
    talk.say("eighteen")
    talk.say("next")
    talk.say("read back")
    exchange = talk.say("negative")
    assert kinds(exchange) == [Kind.VOID, Kind.MOVE]
    assert talk.log() == ["1 top: 18 thou (voided)"]


@pytest.mark.parametrize("words", ["next", "ten turns", "wheel dressed", "cylinder two", "what's left"])
def test_negative_after_something_else_takes_nothing_back(talk, words):
    talk.say("fifteen")
    talk.say(words)
    if words == "what's left":
        return  # nothing happened since the reading, so it is still the last thing told
    assert talk.say("negative").reply.text == "Nothing was asked."
    assert talk.log() == ["1 top: 15 thou"]


def test_negative_takes_back_one_entry_only(talk):
    talk.say("fifteen")
    talk.say("cylinder one second sixteen")
    talk.say("negative")
    talk.say("negative")
    assert talk.log() == ["1 top: 15 thou", "1 second: 16 thou (voided)"]


def test_negative_with_the_right_value_is_a_correction(talk):
    talk.say("fifteen")
    talk.say("negative sixteen")
    assert talk.log() == ["1 top: 15 thou (corrected)", "1 top: 16 thou"]


# --- chains -------------------------------------------------------------------------------------


def test_two_readings_of_one_breath_are_two_entries_with_both_answers(talk):
    exchange = talk.say("cylinder one top fifteen cylinder two top sixteen")
    assert talk.log() == ["1 top: 15 thou", "2 top: 16 thou"]
    assert exchange.reply.text == "One top, fifteen. File three. Two top, sixteen. File two."


@pytest.mark.parametrize("odd_first", [True, False])
def test_an_implausible_reading_in_a_chain_is_asked_about_after_the_others_are_logged(talk, odd_first):
    parts = ["cylinder one top ninety", "cylinder two top sixteen"]
    exchange = talk.say(" ".join(parts if odd_first else parts[::-1]))
    assert talk.log() == ["2 top: 16 thou"]
    assert exchange.reply.text == "Two top, sixteen. File two. One top, ninety? Yes or no."
    talk.say("affirm")
    assert talk.log() == ["2 top: 16 thou", "1 top: 90 thou"]


# --- other rules and units ----------------------------------------------------------------------


def test_a_check_within_limits_is_answered_without_filing(talk):
    talk.say("check side clearance")
    exchange = talk.say("point zero two")
    assert exchange.reply.text == "Cylinder one, zero point zero two. Short by one hundredth."
    exchange = talk.say("point zero five")
    assert exchange.reply.text == "Cylinder one, zero point zero five. Good. Next, cylinder two."


def test_a_unit_is_said_wherever_a_bare_number_would_not_have_it(talk):
    assert talk.say("point four five millimetres").reply.text.startswith(
        "One top, zero point four five milli"
    )
    talk.say("check side clearance")
    assert talk.say("two thou").reply.text.startswith("Cylinder one, two thou. Good.")


def test_turns_are_kept_with_the_place_and_the_exact_count(talk, at):
    exchange = talk.say("ten and a half turns")
    assert exchange.reply.text == "Ten and a half turns, noted."
    draft = exchange.events[0].draft
    assert (draft.position, draft.data) == (at(1, "top"), {"count": "10.5"})


def test_a_part_that_is_over_is_not_to_be_assembled_and_nothing_is_said_of_putting_back(talk):
    """Nothing was taken off an oil rail or a side clearance: there is nothing to put back."""
    talk.say("check side clearance")
    text = talk.say("point one").reply.text
    assert "Over by" in text
    assert text.endswith("Don't assemble it so.")
