"""Every procedure word, in every state that matters: what is stored, and what is answered."""

from __future__ import annotations

from collections.abc import Callable

import pytest

from handsfree.record import Kind
from handsfree.understand import WORD_KEYS, Word

pytestmark = pytest.mark.quick

NOTHING: list[Kind] = []
KEYS = {word: keys for keys, word in WORD_KEYS.items()}


def fresh(talk) -> None:
    """Nothing logged yet."""


def logged(talk) -> None:
    talk.say("fifteen")


def logged_and_gone_on(talk) -> None:
    talk.say("eighteen")  # good, so the next position is in hand


def asked_about_a_value(talk) -> None:
    talk.say("fifteen")
    talk.say("ninety")


def asked_to_finish(talk) -> None:
    talk.say("fifteen")
    talk.say("finish")


def asked_for_the_right_value(talk) -> None:
    talk.say("fifteen")
    talk.say("correction")


def asked_to_say_again(talk) -> None:
    talk.say("fifteen")
    talk.mumble()


def standing_by(talk) -> None:
    talk.say("fifteen")
    talk.say("stand by")


def finished(talk) -> None:
    talk.say("fifteen")
    talk.say("finish")
    talk.say("affirm")


def at_a_tick(talk) -> None:
    talk.say("check washed")


DONE_NOTHING_ASKED = (NOTHING, "Nothing was asked.")
READY = (
    "Ready. Any key or word skips the cautions. Wear eye protection; filed edges are sharp. "
    "Keep gloves, sleeves and cords away from the stone. "
    "Spread and twist rings as little as you can. Measure dry, clean and at room temperature. "
    "Wipe hands, leaves and keys. First, one top."
)
MORE = ", and more in side clearance and washed."
ONE_SHORT = f"all of cylinder two; one second; one top to file{MORE}"
FINISH = f"Four still open: {ONE_SHORT} Finish all the same? Yes or no."

# State, word: kinds of events that it stores, and its answer.
TABLE: list[tuple[Callable[..., None], Word, list[Kind], str]] = [
    (fresh, Word.SAY_AGAIN, NOTHING, READY),
    (fresh, Word.AFFIRM, *DONE_NOTHING_ASKED),
    (fresh, Word.NEGATIVE, *DONE_NOTHING_ASKED),
    (fresh, Word.DISREGARD, NOTHING, "Nothing to disregard."),
    (fresh, Word.CORRECTION, NOTHING, "Nothing to correct."),
    (fresh, Word.STAND_BY, [Kind.STAND_BY], "Standing by. Say go ahead to go on."),
    (fresh, Word.GO_AHEAD, [Kind.GO_AHEAD], "Going on. One top."),
    (fresh, Word.READ_BACK, NOTHING, "One top, no reading."),
    (fresh, Word.CONFIRM, NOTHING, "One top, no reading."),
    (fresh, Word.ROGER, NOTHING, ""),
    (fresh, Word.NEXT, [Kind.MOVE], "Now one second."),
    (fresh, Word.PREVIOUS, NOTHING, "None before one top."),
    (fresh, Word.WHATS_LEFT, NOTHING, f"All four left{MORE}"),
    (fresh, Word.DRESSED, [Kind.DRESSED], "Wheel dressed, noted."),
    (fresh, Word.DONE, *DONE_NOTHING_ASKED),
    (fresh, Word.NOT_DONE, *DONE_NOTHING_ASKED),
    (
        fresh,
        Word.FINISH,
        [Kind.ASKED],
        f"All four still open{MORE} Finish all the same? Yes or no.",
    ),
    (logged, Word.SAY_AGAIN, NOTHING, "One top, fifteen. File three."),
    (logged, Word.AFFIRM, *DONE_NOTHING_ASKED),
    (logged, Word.NEGATIVE, [Kind.VOID, Kind.MOVE], "Not that, then. Say it again."),
    (logged, Word.DISREGARD, [Kind.VOID, Kind.MOVE], "Disregarded: one top, fifteen. One top is open again."),
    (logged, Word.CORRECTION, [Kind.ASKED], "One top. What is the reading?"),
    (logged, Word.READ_BACK, NOTHING, "One top, fifteen thou."),
    (logged, Word.CONFIRM, NOTHING, "One top, fifteen thou."),
    (logged, Word.ROGER, NOTHING, ""),
    (logged, Word.WHATS_LEFT, NOTHING, f"Four left: {ONE_SHORT}"),
    (logged_and_gone_on, Word.NEGATIVE, [Kind.VOID, Kind.MOVE], "Not that, then. Say it again."),
    (logged_and_gone_on, Word.READ_BACK, NOTHING, "One top, eighteen thou."),
    (logged_and_gone_on, Word.CORRECTION, [Kind.ASKED], "One top. What is the reading?"),
    (logged_and_gone_on, Word.PREVIOUS, [Kind.MOVE], "Now one top. Last was eighteen."),
    (logged_and_gone_on, Word.NEXT, [Kind.MOVE], "Now two top."),
    (asked_about_a_value, Word.SAY_AGAIN, NOTHING, "One top, ninety? Yes or no."),
    (
        asked_about_a_value,
        Word.AFFIRM,
        [Kind.READING],
        "One top, ninety. Over by seventy and a half. Don't file; try it in another bore, or replace.",
    ),
    (asked_about_a_value, Word.NEGATIVE, [Kind.VOID], "Not that, then. Say it again."),
    (asked_about_a_value, Word.DISREGARD, [Kind.VOID], "Left as it was."),
    (asked_about_a_value, Word.ROGER, NOTHING, ""),
    (asked_about_a_value, Word.READ_BACK, NOTHING, "One top, fifteen thou."),
    (asked_about_a_value, Word.STAND_BY, [Kind.STAND_BY], "Standing by. Say go ahead to go on."),
    (asked_about_a_value, Word.FINISH, [Kind.ASKED], FINISH),
    (asked_to_finish, Word.SAY_AGAIN, NOTHING, FINISH),
    (asked_to_finish, Word.AFFIRM, [Kind.FINISHED], "Finished. One logged, eight left open."),
    (asked_to_finish, Word.NEGATIVE, [Kind.VOID], "Left as it was."),
    (asked_to_finish, Word.DISREGARD, [Kind.VOID], "Left as it was."),
    (asked_to_finish, Word.FINISH, [Kind.ASKED], FINISH),
    (asked_to_finish, Word.ROGER, NOTHING, ""),
    (asked_for_the_right_value, Word.AFFIRM, *DONE_NOTHING_ASKED),
    (asked_for_the_right_value, Word.NEGATIVE, [Kind.VOID], "Left as it was."),
    (asked_for_the_right_value, Word.DISREGARD, [Kind.VOID], "Left as it was."),
    (asked_for_the_right_value, Word.SAY_AGAIN, NOTHING, "One top. What is the reading?"),
    (asked_to_say_again, Word.AFFIRM, *DONE_NOTHING_ASKED),
    (asked_to_say_again, Word.NEGATIVE, [Kind.VOID, Kind.MOVE], "Not that, then. Say it again."),
    (asked_to_say_again, Word.SAY_AGAIN, NOTHING, "Say again?"),
    (finished, Word.AFFIRM, *DONE_NOTHING_ASKED),
    (finished, Word.NEGATIVE, *DONE_NOTHING_ASKED),
    (finished, Word.FINISH, [Kind.ASKED], FINISH),
    (finished, Word.READ_BACK, NOTHING, "One top, fifteen thou."),
    (at_a_tick, Word.DONE, [Kind.TICK, Kind.MOVE], "Cylinder one, done. Next, cylinder two."),
    (at_a_tick, Word.NOT_DONE, [Kind.TICK], "Cylinder one, not done."),
    (at_a_tick, Word.READ_BACK, NOTHING, "Cylinder one, no reading."),
    (at_a_tick, Word.WHATS_LEFT, NOTHING, "All two left, and more in ring gaps and side clearance."),
]


def ids(row: object) -> str | None:
    return getattr(row, "__name__", None) or (row.value if isinstance(row, Word) else None)


@pytest.mark.parametrize(("state", "word", "kinds", "answer"), TABLE, ids=ids)
def test_word_said_in_a_state_stores_and_answers_this(talk, state, word, kinds, answer):
    state(talk)
    exchange = talk.say(word.value)
    assert [event.kind for event in exchange.events] == kinds
    assert exchange.reply.text == answer


@pytest.mark.parametrize(("state", "word", "kinds", "answer"), TABLE, ids=ids)
def test_word_keyed_in_a_state_does_what_the_word_said_does(talk, state, word, kinds, answer):
    state(talk)
    exchange = talk.key(KEYS[word])
    assert [event.kind for event in exchange.events] == kinds
    assert exchange.reply.text == answer


@pytest.mark.parametrize("word", Word, ids=ids)
def test_while_standing_by_only_go_ahead_does_anything(talk, word):
    standing_by(talk)
    exchange = talk.say(word.value)
    if word is Word.GO_AHEAD:
        assert [event.kind for event in exchange.events] == [Kind.GO_AHEAD]
        assert exchange.reply.text == "Going on. One top."
    else:
        assert exchange.events == ()
        assert exchange.reply.text == ""


@pytest.mark.parametrize(
    "words",
    [
        "eighteen",
        "no go eighteen",
        "cylinder two top eighteen",
        "correction nineteen",
        "eighteen goes nineteen stops",
    ],
)
def test_a_size_said_while_standing_by_is_not_logged_and_that_is_said(talk, words):
    standing_by(talk)
    exchange = talk.say(words)
    assert exchange.events == ()
    assert exchange.reply.text == "Standing by. Not logged."
    assert talk.log() == ["1 top: 15 thou"]


@pytest.mark.parametrize("words", ["ten turns", "cylinder two top", "check washed"])
def test_other_commands_while_standing_by_do_nothing(talk, words):
    standing_by(talk)
    before = talk.session
    assert talk.say(words).events == ()
    assert talk.session == before


def test_unclear_and_foreign_talk_while_standing_by_gets_no_answer(talk):
    standing_by(talk)
    assert talk.mumble().reply.text == ""
    assert talk.chatter().reply.text == ""


def test_after_go_ahead_readings_are_logged_again(talk):
    standing_by(talk)
    talk.say("go ahead")
    assert talk.say("sixteen").reply.text == "One top, sixteen. File two."


def test_chatter_stores_nothing_and_is_not_answered(talk):
    exchange = talk.chatter()
    assert exchange.events == ()
    assert exchange.reply.text == ""


def test_asking_again_three_times_says_what_may_help(talk):
    assert talk.mumble().reply.text == "Say again?"
    assert talk.mumble().reply.text == "Say again, a little slower?"
    assert talk.mumble().reply.text == "Can't make that out. Say it closer to the microphone, or key it."
    talk.say("eighteen")
    assert talk.mumble().reply.text == "Say again?"


def test_chatter_between_does_not_count_as_asking(talk):
    talk.mumble()
    talk.chatter()
    assert talk.mumble().reply.text == "Say again, a little slower?"
