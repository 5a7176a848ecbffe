"""What is listened for in a check: its grammar, and which window decides between meanings."""

from __future__ import annotations

import pytest

from handsfree.length import Unit, length
from handsfree.planfile import parse_plan
from handsfree.understand import Reading, listen_for, meanings

pytestmark = pytest.mark.quick

PLAN = """
format = 1
name = "Two sizes"
[engine]
name = "Odd twin"

[[check]]
name = "gaps"
rule = "file to gap"
unit = "thou"
[check.axes]
cylinder = 2
[[check.target]]
cylinder = 1
aim = "18 thou"
plus = "1 thou"
[[check.target]]
cylinder = 2
aim = "170 thou"
plus = "10 thou"

[[check]]
name = "washed"
rule = "tick"
[check.axes]
cylinder = 2
"""


@pytest.fixture(scope="module")
def plan():
    return parse_plan(PLAN)


@pytest.fixture(scope="module")
def gaps(plan):
    return listen_for(plan, plan.checks[0])


def value_of(words, listening, context):
    found = meanings(words.split(), listening.automaton, context)
    return [meaning.commands[0].value for meaning in found], all(meaning.sure for meaning in found)


def test_a_bare_number_is_taken_by_the_window_of_the_position_in_hand(plan, gaps):
    check = plan.checks[0]
    first, second = check.positions
    words = "one eight five"
    assert value_of(words, gaps, gaps.at(first, check)) == ([length("18.5")], True)
    assert value_of(words, gaps, gaps.at(second, check)) == ([length("185")], True)


def test_a_named_place_is_taken_by_its_own_window_wherever_the_work_is(plan, gaps):
    check = plan.checks[0]
    context = gaps.at(check.positions[0], check)
    assert value_of("cylinder two one eight five", gaps, context) == ([length("185")], True)


def test_without_a_position_in_hand_the_widest_window_decides_so_that_both_are_asked_about(gaps):
    values, _ = value_of("one eight five", gaps, gaps.context)
    assert values == [length("185"), length("18.5")]


def test_the_context_keeps_unit_axes_and_checks(plan, gaps):
    context = gaps.at(plan.checks[0].positions[0], plan.checks[0])
    assert context.unit is Unit.THOU
    assert dict(context.axes) == {"cylinder": ("1", "2")}
    assert context.checks == ("gaps", "washed")


def test_a_check_without_targets_has_no_window(plan):
    washed = listen_for(plan, plan.checks[1])
    assert washed.context.window(None) is None
    assert washed.context.window(plan.checks[1].positions[0]) is None
    (meaning,) = meanings(["eighteen"], washed.automaton, washed.context)
    assert isinstance(meaning.commands[0], Reading)
