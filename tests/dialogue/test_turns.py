"""Counted turns: what is left and how far to file, and when nothing may be advised."""

from __future__ import annotations

import re

import pytest

from handsfree.judge import next_pass, passes_like
from handsfree.length import length
from handsfree.session import filed_passes
from tests.dialogue.rules import GAPS, said, talk
from tests.dialogue.talk import Talk

pytestmark = pytest.mark.quick


# --- counted turns ----------------------------------------------------------------------------------


def filed(bench: Talk, start: str, *passes: tuple[str, str]) -> str:
    """File one ring: a first reading, then turns and the reading after them. Give the last answer."""
    bench.say(start)
    for turns, reading in passes:
        bench.say(f"{turns} turns")
        answer = bench.say(reading).reply
    return answer.text


def test_without_counted_turns_only_the_amount_left_is_said():
    assert said(talk(GAPS), "fifteen and a half") == ["One top, fifteen and a half. File two and a half."]


def test_turns_that_taught_nothing_yet_call_for_a_short_pass():
    bench = talk(GAPS)
    said(bench, "five turns", "wheel dressed")
    assert said(bench, "fifteen") == [
        "One top, fifteen. Three to go. Make a short pass, count the turns, and measure."
    ]


def test_few_passes_give_at_most_half_of_what_is_left():
    """One pass: 10 turns took 1.5 thou, 0.15 a turn. 2.5 left: half of it is eight turns."""
    answer = filed(talk(GAPS), "fourteen", ("ten", "fifteen point five"))
    assert (
        answer
        == "One top, fifteen and a half. Two and a half to go, perhaps seventeen turns, check after eight."
    )


FOUR = (
    ("ten", "eleven point six"),
    ("ten", "thirteen"),
    ("eight", "fourteen point three"),
    ("six", "fifteen point two"),
)


def test_learned_turns_say_what_is_left_about_how_far_and_when_to_look():
    """The worked example of the rate: 1.6, 1.4, 1.3 and 0.9 thou by 10, 10, 8 and 6 turns."""
    bench = talk(GAPS)
    answer = filed(bench, "ten", *FOUR)
    found = re.fullmatch(
        r"One top, fifteen point two\. Two point eight to go, about eighteen turns, check after ([\w ]+)\. "
        r"\(chance of going over: 5 % at most\)",
        answer,
    )
    assert found, answer
    check = bench.plan.checks[0]
    passes = passes_like(bench.session.position, filed_passes(bench.session, check), bench.session.dressed)
    assert [str(one.turns) for one in passes] == ["10", "10", "8", "6"]
    advice = next_pass(bench.plan, check, bench.session.position, length("15.2"), passes)
    assert advice is not None
    assert found[1] == {13: "thirteen", 14: "fourteen", 12: "twelve", 15: "fifteen"}[advice.turns]


def test_what_a_top_taught_holds_for_tops_and_not_for_seconds():
    bench = talk(GAPS)
    filed(bench, "ten", *FOUR)
    assert "about" in bench.say("cylinder two top fifteen").reply.text
    assert bench.say("cylinder one second fifteen").reply.text.endswith(
        "Make a short pass, count the turns, and measure."
    )


def test_a_dressed_wheel_forgets():
    bench = talk(GAPS)
    filed(bench, "ten", *FOUR)
    assert "about" in bench.say("fifteen point two").reply.text
    bench.say("wheel dressed")
    assert bench.say("fifteen point two").reply.text.endswith(
        "Make a short pass, count the turns, and measure."
    )


def test_leaves_teach_nothing_and_no_turns_are_advised_from_them():
    bench = talk(GAPS)
    said(bench, "no go twelve", "ten turns", "no go fourteen", "ten turns")
    answer = bench.say("no go fifteen").reply.text
    assert answer == "One top, under fifteen. Over three to go."


def test_a_withdrawn_reading_joins_the_turns_on_both_sides():
    bench = talk(GAPS)
    said(bench, "ten", "five turns", "twelve", "disregard", "five turns")
    bench.say("eleven and a half")
    check = bench.plan.checks[0]
    (one,) = filed_passes(bench.session, check)
    assert (str(one.turns), one.before, one.after) == ("10", length("10"), length("11.5"))


def test_a_reading_in_doubt_teaches_nothing():
    bench = talk(GAPS)
    said(bench, "fifteen", "ten turns", "twelve")
    assert filed_passes(bench.session, bench.plan.checks[0]) == []


def test_a_ring_at_its_aim_or_over_or_uncertain_gets_no_turns():
    bench = talk(GAPS)
    filed(bench, "ten", *FOUR)
    for words in ("eighteen", "cylinder one top nineteen and a half", "twenty one"):
        text = bench.say(words).reply.text
        assert "turns" not in text, text
