"""Ways to say a size, and the grammar of replies that is made of phrases."""

from __future__ import annotations

import math
from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from handsfree.length import Length, Unit, lowest_form
from handsfree.understand import (
    Reading,
    Replies,
    ReplyThresholds,
    load_grammar,
    meanings,
    phrases_of,
    said_number,
    settles,
    ways_to_say,
)

pytestmark = pytest.mark.quick

GOOD = ReplyThresholds()


def ways(value, unit=Unit.THOU):
    return {" ".join(words) for words in ways_to_say(Length(Decimal(value), unit))}


def test_whole_number_is_said_in_words_and_by_digits_with_and_without_its_unit():
    assert {"eighteen", "eighteen thou", "one eight", "one eight thousandths"} <= ways("18")


def test_half_is_said_as_a_fraction_as_tenths_and_with_a_point():
    said = ways("18.5")
    assert {"eighteen and a half", "eighteen and five tenths", "eighteen point five"} <= said
    assert {"one eight decimal five", "eighteen and a half thou"} <= said


def test_part_of_one_is_said_alone():
    assert {"half a thou", "zero point five thou", "point five", "five tenths of a thou"} <= ways("0.5")
    assert {"quarter of a thou", "three quarters"} <= ways("0.25") | ways("0.75")


def test_two_decimals_are_said_one_by_one_and_as_one_number():
    assert {"eighteen point two five", "eighteen point twenty five", "eighteen and a quarter"} <= ways(
        "18.25"
    )


def test_more_than_a_hundred_is_said_with_and_without_and():
    said = ways("118")
    assert {"a hundred and eighteen", "one hundred eighteen thou", "one one eight"} <= said
    assert {"two hundred", "two oh oh", "two zero zero thou"} <= ways("200")


def test_size_below_zero_begins_with_its_sign():
    assert all(words.startswith("minus ") for words in ways("-2.5"))


@given(st.integers(100, 6000).map(lambda n: Decimal(n) / 100))
def test_no_way_to_say_a_size_means_another_one_for_sure(demo, value):
    """From one thou up: below it "point one" is taken for an inch's. Unsure ways are the caller's to drop."""
    size = Length(lowest_form(value), Unit.THOU)
    meant = 0
    for words in ways_to_say(size):
        found = meanings(words, demo.automaton, demo.context)
        if len(found) == 1 and found[0].sure:
            assert found[0].commands == (Reading(size),), words
            meant += 1
    assert meant


def test_numbered_label_is_said_by_its_number_and_a_word_is_not_a_number():
    assert said_number("12") == ("twelve",)
    assert said_number("top") == said_number("0") == said_number("120") == ()


def test_automaton_of_replies_holds_its_phrases_and_nothing_else():
    replies = Replies("1", frozenset({("thirty",), ("thirty", "thou"), ("say", "again")}))
    assert phrases_of(replies.automaton) == replies.phrases
    assert not replies.automaton.accepts(("thirty", "again"))
    assert not replies.automaton.accepts(())
    assert not replies.automaton.accepts(("say",))


def test_procedure_words_are_listed_from_the_grammar():
    words = phrases_of(load_grammar().compile("control"))
    assert {("disregard",), ("say", "again"), ("stand", "by")} <= words


def test_words_that_answer_a_question_hold_none_that_sounds_like_them():
    words = phrases_of(load_grammar().compile("answer"))
    assert {("yes",), ("no",), ("affirm",), ("negative",)} <= words
    assert not {("confirm",), ("correction",)} & words


@pytest.mark.parametrize(
    ("changed", "settled"),
    [
        ({}, True),
        ({"behind": GOOD.behind + 0.01}, False),
        ({"behind": -0.1}, True),
        ({"behind": math.inf}, False),
        ({"behind": math.nan}, False),
        ({"margin": GOOD.margin - 0.01}, False),
        ({"pace": GOOD.slowest + 0.01}, False),
        ({"pace": GOOD.fastest - 0.01}, False),
    ],
)
def test_words_among_the_replies_settle_only_where_all_agrees(changed, settled):
    best = {"behind": GOOD.behind, "margin": GOOD.margin, "pace": GOOD.slowest}
    assert settles(**(best | changed)) is settled
