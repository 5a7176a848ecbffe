"""Grammar and keypad at checks other than ring gaps: their axes, parts, sizes and signs."""

from __future__ import annotations

from decimal import Decimal

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from handsfree.errors import KeypadError
from handsfree.length import Length, Unit, length, lowest_form
from handsfree.plan import Plan, Position
from handsfree.planfile import load_plan, parse_plan
from handsfree.speak import number_words
from handsfree.understand import ChangeCheck, Feel, Listening, Move, Reading, listen_for, meanings, pad_for
from handsfree.understand.numbers import digit_words
from tests.support.program import ROOT

pytestmark = pytest.mark.quick

TEXT = """
format = 1
name = "Short block"
[engine]
name = "Mere six"

[[check]]
name = "bores"
rule = "limits"
unit = "mm"
window = ["82 mm", "122.8 mm"]
[check.axes]
cylinder = 6
depth = ["upper", "lower"]
[[check.target]]
lower = "102.350 mm"
upper = "102.376 mm"

[[check]]
name = "inch bores"
rule = "limits"
unit = "in"
window = ["3.2 in", "4.84 in"]
[check.axes]
cylinder = 6
[[check.target]]
lower = "4.0300 in"
upper = "4.0312 in"

[[check]]
name = "main bearings"
rule = "difference"
unit = "thou"
formula = "housing - 2 shell - journal"
[check.axes]
main = 4
[[check.part]]
name = "housing"
nominal = "2.2250 in"
[[check.part]]
name = "shell"
nominal = "61.2 thou"
[[check.part]]
name = "journal"
nominal = "2.1000 in"
[[check.target]]
lower = "1 thou"
upper = "3 thou"

[[check]]
name = "valve lash"
rule = "shim"
unit = "mm"
[check.axes]
cylinder = 2
valve = ["intake", "exhaust"]
[[check.part]]
name = "shim"
nominal = "2.60 mm"
[[check.part]]
name = "lash"
[check.shims]
least = "2.00 mm"
most = "3.20 mm"
step = "0.05 mm"
[[check.target]]
lower = "0.10 mm"
upper = "0.16 mm"

[[check]]
name = "deck"
rule = "limits"
unit = "mm"
signed = true
[check.axes]
cylinder = 2
[[check.target]]
lower = "-0.10 mm"
upper = "0.30 mm"

[[check]]
name = "microns"
rule = "file to gap"
unit = "um"
[check.axes]
cylinder = 2
[[check.target]]
aim = "450 um"
plus = "40 um"

[[check]]
name = "rod bolts"
rule = "tick"
[check.axes]
rod = 6
"""
PLAN = parse_plan(TEXT)
_HEARD: dict[str, Listening] = {}


def listening(name: str, plan: Plan = PLAN) -> Listening:
    key = plan.name + name
    if key not in _HEARD:
        _HEARD[key] = listen_for(plan, plan.check(name))
    return _HEARD[key]


def meant(name: str, words: str, place: str | None = None, plan: Plan = PLAN):
    """Give each meaning as its commands and whether it is sure."""
    check = plan.check(name)
    heard = listening(name, plan)
    hand = next(p for p in check.positions if place in (None, p.key))
    found = meanings(words.split(), heard.automaton, heard.at(hand, check))
    return [(meaning.commands, meaning.sure) for meaning in found]


def sure(name: str, words: str, place: str | None = None, plan: Plan = PLAN):
    ((commands, certain),) = meant(name, words, place, plan)
    assert certain, commands
    return commands[0] if len(commands) == 1 else commands


@pytest.mark.parametrize(
    ("check", "words", "size", "unit"),
    [
        ("bores", "one hundred and two point three six", "102.36", "mm"),
        ("bores", "a hundred and two point three six four", "102.364", "mm"),
        ("bores", "one hundred two point three six millimetres", "102.36", "mm"),
        ("bores", "one oh two point three six two", "102.362", "mm"),
        ("bores", "one zero two three six", "102.36", "mm"),
        ("bores", "ninety nine point nine", "99.9", "mm"),
        ("bores", "one hundred", "100", "mm"),
        ("bores", "four point oh three oh inches", "4.03", "in"),
        ("inch bores", "four point zero three zero zero", "4.03", "in"),
        ("inch bores", "four point oh three oh four", "4.0304", "in"),
        ("inch bores", "four oh three oh", "4.03", "in"),
        ("inch bores", "four oh three oh five", "4.0305", "in"),
        ("inch bores", "fower point oh three niner", "4.039", "in"),
        ("microns", "four hundred and fifty", "450", "um"),
        ("microns", "four hundred and fifty two point five microns", "452.5", "um"),
        ("microns", "four hundred and fifty and a half", "450.5", "um"),
        ("microns", "nine hundred", "900", "um"),
        ("microns", "eighteen thou", "18", "thou"),
    ],
)
def test_sizes_of_other_checks_are_exact_decimals_in_their_unit(check, words, size, unit):
    assert sure(check, words) == Reading(length(size, unit))


def test_a_figure_with_its_point_left_unsaid_counts_only_where_one_size_is_plausible():
    assert sure("bores", "one oh two three six").value == length("102.36", "mm")
    # 40.30 and 4.030 can't both be bores of these checks, but 7.9 and 79 and so on are none at all
    assert all(not certain for _, certain in meant("bores", "seven nine five one"))


@pytest.mark.parametrize(
    ("words", "place", "reading"),
    [
        ("two point two two five", "main 1, part housing", ("2.225", "in", None)),
        ("two point two two five oh", "main 1, part housing", ("2.225", "in", None)),
        ("two two two five oh", "main 1, part housing", ("2.225", "in", None)),
        ("sixty one point two", "main 1, part shell", ("61.2", "thou", None)),
        ("two point one", "main 1, part journal", ("2.1", "in", None)),
        ("shell sixty one point two", "main 1, part housing", ("61.2", "thou", {"part": "shell"})),
        ("journal two point one inches", "main 1, part housing", ("2.1", "in", {"part": "journal"})),
        (
            "main three journal two point oh nine nine eight",
            "main 1, part shell",
            ("2.0998", "in", {"main": "3", "part": "journal"}),
        ),
    ],
)
def test_a_bare_number_has_the_unit_of_its_part(words, place, reading):
    size, unit, named = reading
    position = Position.of(named) if named else None
    assert sure("main bearings", words, place) == Reading(length(size, unit), position)


def test_a_second_place_of_one_breath_leaves_the_rest_to_be_understood():
    first, second = sure("main bearings", "main two housing two point two two five journal two point one")
    assert first.position == Position.of({"main": "2", "part": "housing"})
    assert second.position == Position.of({"main": "2", "part": "journal"})
    assert (first.value, second.value) == (length("2.225", "in"), length("2.1", "in"))


def test_figures_of_three_places_are_not_listened_for_where_sizes_have_two():
    """As when a bore of seventy nine point five was heard as "four seven nine point five"."""
    plan = load_plan(ROOT / "demo" / "build" / "plan.toml")
    words = "four seven nine point five one"
    assert not listening("piston to bore", plan).automaton.accepts(words.split())
    assert listening("bores").automaton.accepts(words.split())
    assert sure("piston to bore", "seven nine point five one", plan=plan).value == length("79.51", "mm")


def test_a_part_is_named_with_what_comes_before_it_or_alone():
    assert sure("valve lash", "exhaust lash point one four") == Reading(
        length("0.14", "mm"), Position.of({"valve": "exhaust", "part": "lash"})
    )
    assert sure("valve lash", "exhaust lash") == Move(Position.of({"valve": "exhaust", "part": "lash"}))


def test_places_of_other_checks_are_gone_to():
    assert sure("main bearings", "main four journal") == Move(Position.of({"main": "4", "part": "journal"}))
    assert sure("main bearings", "journal") == Move(Position.of({"part": "journal"}))
    assert sure("main bearings", "main three") == Move(Position.of({"main": "3"}))
    assert sure("valve lash", "exhaust valve") == Move(Position.of({"valve": "exhaust"}))
    assert sure("rod bolts", "rod five") == Move(Position.of({"rod": "5"}))


@pytest.mark.parametrize("check", [check.name for check in PLAN.checks])
def test_every_check_can_be_left_for_every_other_by_voice_and_by_key(check):
    for number, other in enumerate(PLAN.checks, start=1):
        assert sure(check, f"check {other.name}") == ChangeCheck(other.name)
        pad = pad_for(PLAN, PLAN.check(check), PLAN.check(check).positions[0])
        assert pad.command(f".*{number}") == ChangeCheck(other.name)


# --- below zero ---------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("words", "size"),
    [
        ("minus zero point zero five", "-0.05"),
        ("minus point one two millimetres", "-0.12"),
        ("cylinder two minus point oh five", "-0.05"),
        ("point oh five", "0.05"),
        ("zero", "0"),
        ("zero millimetres", "0"),
    ],
)
def test_minus_is_a_sign_at_the_deck(words, size):
    assert sure("deck", words).value == length(size, "mm")


def test_below_is_asked_about_because_of_a_deck_some_mean_plus_by_it():
    ((commands, certain),) = meant("deck", "below point oh five")
    assert commands[0].value == length("-0.05", "mm")
    assert not certain


def test_negative_is_never_a_sign():
    ((commands, _),) = meant("deck", "negative point oh five")
    assert commands[0] == Reading(length("0.05", "mm"), corrects=True)


@pytest.mark.parametrize("check", ["bores", "inch bores", "main bearings", "valve lash", "microns"])
@pytest.mark.parametrize("words", ["minus two", "below two", "minus point five"])
def test_elsewhere_a_sign_is_not_even_listened_for(check, words):
    assert meant(check, words) == []
    with pytest.raises(KeypadError, match="mean nothing here"):
        pad_for(PLAN, PLAN.check(check), PLAN.check(check).positions[0]).command("-2")


# --- keys ---------------------------------------------------------------------------------------


JOURNAL_3 = Position.of({"main": "3", "part": "journal"})


@pytest.mark.parametrize(
    ("check", "keys", "command"),
    [
        ("bores", "102.364", Reading(length("102.364", "mm"))),
        ("inch bores", "4.0300", Reading(length("4.0300", "in"))),
        ("main bearings", "2.225", Reading(length("2.225", "in"))),
        ("main bearings", "3*2*61.2", Reading(length("61.2"), Position.of({"main": "3", "part": "shell"}))),
        ("main bearings", "3*3*2.1", Reading(length("2.1", "in"), JOURNAL_3)),
        ("main bearings", "/3*3*2.0999", Reading(length("2.0999", "in"), JOURNAL_3, corrects=True)),
        ("deck", "-.05", Reading(length("-0.05", "mm"))),
        ("deck", "2*-0.1", Reading(length("-0.1", "mm"), Position.of({"cylinder": "2"}))),
        ("deck", "-.05-", Reading(length("-0.05", "mm"), feel=Feel.NO_GO)),
    ],
)
def test_keys_at_other_checks_are_this_command_and_back(check, keys, command):
    pad = pad_for(PLAN, PLAN.check(check), PLAN.check(check).positions[0])
    assert pad.command(keys) == command
    again = pad.keys(command)
    assert again is not None
    assert pad.command(again) == command


def test_a_bare_keyed_number_has_the_unit_of_the_part_in_hand():
    check = PLAN.check("main bearings")
    for position, unit in zip(check.positions, ["in", "thou", "in"], strict=False):
        assert pad_for(PLAN, check, position).command("2").value.unit is Unit(unit)


# --- the ring gaps stay lean --------------------------------------------------------------------


def test_what_other_checks_need_is_not_listened_for_at_ring_gaps():
    """Every phrase more is one more to be mistaken for."""
    plan = load_plan(ROOT / "demo" / "plan.toml")
    heard = listening("ring gaps", plan)
    assert not {"size", "hundred", "hundreds", "long", "signed", "sign"} & set(heard.grammar.rules)
    assert not {"minus", "below", "hundred"} & set(heard.automaton.words)
    assert len(heard.automaton.word_arcs) == len(heard.automaton.free_arcs) == RING_GAP_STATES


RING_GAP_STATES = 14905
"""As it is; more needs a reason, and accuracy measured anew (what it buys: tests/measure/conversation.md)."""


# --- whatever the size --------------------------------------------------------------------------


@settings(max_examples=200)
@given(st.decimals(Decimal(82), Decimal(122), places=3))
def test_any_bore_in_words_is_that_bore_exactly(size):
    words = number_words(size, fractions=False)
    assert sure("bores", words).value == Length(lowest_form(size), Unit.MM)


@settings(max_examples=200)
@given(st.decimals(Decimal("3.3"), Decimal("4.8"), places=4))
def test_any_inch_bore_is_exact_in_words_and_digit_by_digit(size):
    words = number_words(size, fractions=False)
    assert sure("inch bores", words).value == Length(lowest_form(size), Unit.INCH)
    said = " ".join(digit_words(str(size).replace(".", "")))
    assert sure("inch bores", said).value == Length(lowest_form(size), Unit.INCH)


@settings(max_examples=100)
@given(st.decimals(Decimal("-0.70"), Decimal("0.70"), places=2))
def test_any_deck_in_words_is_that_deck_with_its_sign(size):
    words = number_words(size, fractions=False)
    assert sure("deck", words).value.value == size
