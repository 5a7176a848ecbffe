"""Words to commands: places, feel, chains, slips taken back, brackets, and what is asked about."""

from __future__ import annotations

from decimal import Decimal

import pytest

from handsfree.length import Unit, length
from handsfree.plan import Position
from handsfree.understand import (
    Bracket,
    ChangeCheck,
    Context,
    Control,
    Feel,
    Meaning,
    Move,
    Reading,
    Turns,
    Word,
    listen_for,
    meanings,
)

pytestmark = pytest.mark.quick


def sure(*commands) -> tuple[Meaning, ...]:
    return (Meaning(commands),)


def test_a_reading_with_its_place(take, at):
    expected = sure(Reading(length("18"), at(3, "top")))
    assert take("cylinder three top eighteen thou") == expected
    assert take("cylinder number three top ring is eighteen") == expected
    assert take("cylinder tree top reads eighteen") == expected


def test_a_bare_reading_has_no_place(take):
    assert take("eighteen") == sure(Reading(length("18")))


@pytest.mark.parametrize(
    ("words", "feel"),
    [
        ("no go eighteen", Feel.NO_GO),
        ("eighteen no go", Feel.NO_GO),
        ("eighteen thou doesn't", Feel.NO_GO),
        ("eighteen does not go", Feel.NO_GO),
        ("eighteen won't go", Feel.NO_GO),
        ("eighteen stops", Feel.NO_GO),
        ("go eighteen", Feel.GO),
        ("eighteen go", Feel.GO),
        ("eighteen goes", Feel.GO),
        ("drag eighteen", Feel.DRAG),
        ("eighteen drags", Feel.DRAG),
        ("eighteen with drag", Feel.DRAG),
        ("no go eighteen stops", Feel.NO_GO),
    ],
)
def test_how_the_leaf_felt(take, words, feel):
    assert take(words) == sure(Reading(length("18"), feel=feel))


@pytest.mark.parametrize("words", ["no go eighteen goes", "go eighteen stops", "drag eighteen no go"])
def test_feels_that_contradict_each_other_are_never_sure(take, words):
    found = take(words)
    assert len(found) == 2
    assert not any(meaning.sure for meaning in found)
    assert len({meaning.commands[0].feel for meaning in found}) == 2


# --- chains -------------------------------------------------------------------------------------


def test_two_readings_in_one_breath_are_two(take, at):
    words = "cylinder one top eighteen cylinder two top nineteen and a half"
    assert take(words) == sure(Reading(length("18"), at(1, "top")), Reading(length("19.5"), at(2, "top")))


def test_three_readings_keep_their_own_feels_and_units(take, at):
    words = (
        "cylinder one top no go eighteen cylinder two top zero point four five millimetres "
        "cylinder tree second ten"
    )
    assert take(words) == sure(
        Reading(length("18"), at(1, "top"), Feel.NO_GO),
        Reading(length("0.45", "mm"), at(2, "top")),
        Reading(length("10"), at(3, "second")),
    )


def test_the_same_reading_said_twice_in_a_breath_is_one(take, at):
    words = "cylinder one top eighteen cylinder one top one eight thou"
    assert take(words) == sure(Reading(length("18"), at(1, "top")))
    again = "cylinder one top eighteen cylinder one top nineteen"
    assert len(take(again)[0].commands) == 2


def test_a_slip_taken_back_in_one_breath_is_the_later_value_and_both_are_kept(take, at):
    assert take("eighteen correction nineteen") == sure(Reading(length("19"), withdrawn=length("18")))
    assert take("cylinder three top eighteen correction nineteen") == sure(
        Reading(length("19"), at(3, "top"), withdrawn=length("18"))
    )


def test_a_slip_in_a_chain_takes_back_only_the_last_value(take, at):
    words = "cylinder one top eighteen cylinder two top nineteen correction twenty"
    assert take(words) == sure(
        Reading(length("18"), at(1, "top")),
        Reading(length("20"), at(2, "top"), withdrawn=length("19")),
    )


def test_a_slip_keeps_the_feel_that_is_not_said_anew(take):
    assert take("no go eighteen correction nineteen") == sure(
        Reading(length("19"), feel=Feel.NO_GO, withdrawn=length("18"))
    )
    assert take("no go eighteen correction nineteen goes") == sure(
        Reading(length("19"), feel=Feel.GO, withdrawn=length("18"))
    )


def test_one_breath_may_be_unclear_in_one_part_and_is_then_unsure_as_a_whole(take, at):
    found = take("cylinder one top eighteen five cylinder two top nineteen", window=("4", "200"))
    assert [m.commands[0].value.value for m in found] == [Decimal("18.5"), Decimal(185)]
    assert all(m.commands[1] == Reading(length("19"), at(2, "top")) for m in found)
    assert not any(m.sure for m in found)


# --- corrections, moves and the rest ------------------------------------------------------------


@pytest.mark.parametrize("word", ["correction", "negative"])
def test_a_correction_of_what_was_logged(take, at, word):
    assert take(f"{word} nineteen") == sure(Reading(length("19"), corrects=True))
    assert take(f"{word} cylinder four second is nineteen") == sure(
        Reading(length("19"), at(4, "second"), corrects=True)
    )


def test_a_bracket_of_two_leaves(take, at):
    assert take("eighteen goes nineteen doesn't") == sure(Bracket(length("18"), length("19")))
    assert take("cylinder three top eighteen goes and nineteen stops") == sure(
        Bracket(length("18"), length("19"), at(3, "top"))
    )
    assert take("eighteen thou goes but point five millimetres won't go") == sure(
        Bracket(length("18"), length("0.5", "mm"))
    )


def test_a_bracket_with_an_unclear_leaf_is_asked_about(take):
    found = take("eighteen five goes nineteen stops", window=("4", "200"))
    assert {m.commands[0].goes.value for m in found} == {Decimal("18.5"), Decimal(185)}
    assert not any(m.sure for m in found)


@pytest.mark.parametrize(
    ("words", "place"),
    [
        ("cylinder four", (4, None)),
        ("go to cylinder four", (4, None)),
        ("move to top", (None, "top")),
        ("second ring", (None, "second")),
        ("cylinder four second", (4, "second")),
    ],
)
def test_a_place_alone_is_a_move_and_leaves_open_what_was_not_said(take, at, words, place):
    assert take(words) == sure(Move(at(*place)))


def test_a_check_is_called_by_its_name_or_number_in_the_plan(take):
    assert take("check ring gaps") == sure(ChangeCheck("ring gaps"))


def test_the_second_check_of_a_plan_is_the_second(demo_plan, demo):
    context = Context(Unit.THOU, demo.context.axes, ("a", "b"))
    grammar = listen_for(demo_plan, demo_plan.checks[0]).grammar
    assert meanings(("check", "ring", "gaps"), grammar.compile(), context) == sure(ChangeCheck("a"))


@pytest.mark.parametrize(
    ("words", "count"),
    [
        ("ten turns", "10"),
        ("one turn", "1"),
        ("half a turn", "0.5"),
        ("twenty two and a half turns", "22.5"),
    ],
)
def test_turns_of_the_filer(take, words, count):
    assert take(words) == sure(Turns(Decimal(count)))


def test_a_turns_is_not_listened_for_since_eight_turns_sounds_like_it(take):
    assert take("a turns") == take("a turn") == ()


@pytest.mark.parametrize("word", Word)
def test_every_procedure_word_is_said_as_it_is_written(take, word):
    assert take(word.value) == sure(Control(word))


@pytest.mark.parametrize(
    ("words", "word"),
    [
        ("yes", Word.AFFIRM),
        ("affirmative", Word.AFFIRM),
        ("what is left", Word.WHATS_LEFT),
        ("new wheel", Word.DRESSED),
    ],
)
def test_other_words_for_the_same(take, words, word):
    assert take(words) == sure(Control(word))


def test_roger_is_not_affirm(take):
    assert take("roger") == sure(Control(Word.ROGER))


@pytest.mark.parametrize(
    "words",
    ["", "hello", "eighteen eighteen", "cylinder", "cylinder nine top eighteen", "top eighteen", "thou"],
)
def test_what_the_grammar_does_not_hold_means_nothing(take, words):
    assert take(words) == ()


# --- the window ---------------------------------------------------------------------------------


def test_the_window_is_that_of_the_named_place(automaton, at):
    """One cylinder is plausible at 185, the others at 18.5; the words alone don't say which."""
    asked: list[Position | None] = []

    def window(position):
        asked.append(position)
        return (length("100"), length("200")) if position == at(2, "top") else (length("5"), length("45"))

    context = Context(Unit.THOU, {"cylinder": tuple("12345678"), "ring": ("top", "second")}, (), window)
    words = "cylinder one top one eight five cylinder two top one eight five"
    (meaning,) = meanings(words.split(), automaton, context)
    assert [r.value for r in meaning.commands] == [length("18.5"), length("185")]
    assert meaning.sure
    assert asked == [at(1, "top"), at(2, "top")]
    (bare,) = meanings(("one", "eight", "five"), automaton, context)
    assert bare.commands[0].value == length("18.5")
    assert asked[-1] is None


def test_a_taken_back_value_is_judged_at_the_same_place(automaton, at):
    asked = []
    context = Context(Unit.THOU, {"cylinder": tuple("12345678"), "ring": ("top", "second")}, (), asked.append)
    words = "cylinder three top one eight five correction one nine five"
    meanings(words.split(), automaton, context)
    assert asked == [at(3, "top"), at(3, "top")]


@pytest.mark.parametrize("words", ["ninety nine", "eighteen point five", "one hundred", "two millimetres"])
def test_a_plain_value_outside_the_window_is_given_as_it_was_said(take, words):
    for meaning in take(words, window=("17", "19")):
        assert meaning.sure
        assert meaning.commands[0].value in (length("99"), length("18.5"), length("2", "mm"))


def test_where_no_meaning_is_plausible_all_are_asked_about(take):
    found = take("one eight five", window=("50", "60"))
    assert {m.commands[0].value.value for m in found} == {Decimal("18.5"), Decimal(185)}
    assert not any(m.sure for m in found)
