"""Feeler leaves: stacks, and the next one to try."""

from decimal import Decimal
from fractions import Fraction

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from handsfree.judge import Bounds, State
from handsfree.judge.leaves import next_stack, stack_for, stacks
from handsfree.judge.reading import judge_bounds
from handsfree.length import Length, Unit, length, plain
from handsfree.plan import Target

pytestmark = pytest.mark.quick

SET = tuple(
    length(size) for size in ("1.5", "2", "2.5", "3", "4", "5", "6", "8", "10", "12", "15", "20", "25")
)
GAP = Target(length("18"), length("18"), length("19.5"))


def sizes(stack):
    return [plain(leaf.value) for leaf in stack.leaves]  # however each was written


@pytest.mark.parametrize(
    ("size", "leaves"),
    [
        ("15", ["15"]),
        ("18", ["10", "8"]),  # before 15 + 3: thin leaves crumple
        ("19", ["15", "4"]),
        ("21.5", ["20", "1.5"]),
        ("6.5", ["4", "2.5"]),  # before 5 + 1.5
    ],
)
def test_fewest_leaves_then_the_thickest_thin_one(size, leaves):
    stack = stack_for(length(size), SET)
    assert sizes(stack) == leaves
    assert stack.size == length(size)


def test_eighteen_and_a_half_takes_three():
    stack = stack_for(length("18.5"), SET)
    assert len(stack.leaves) == 3
    assert sum(leaf.value for leaf in stack.leaves) == Decimal("18.5")


def test_every_half_thou_from_one_and_a_half_to_thirty_can_be_made():
    missing = [n / 2 for n in range(3, 61) if stack_for(length(str(Decimal(n) / 2)), SET) is None]
    assert missing == []


def test_size_beyond_the_drawer_cannot_be_made():
    assert stack_for(length("18.25"), SET) is None
    assert stack_for(length("61"), SET) is None
    assert stack_for(length("18"), ()) is None
    assert stack_for(length("18"), SET, most=1) is None


def test_leaf_is_used_once_and_metric_stacks_are_exact():
    drawer = tuple(length(size, "mm") for size in ("0.05", "0.10", "0.30"))
    assert stack_for(length("0.35", "mm"), drawer).size == length("0.35", "mm")
    assert stack_for(length("0.20", "mm"), drawer) is None
    mixed = (length("4"), length("0.30", "mm"))
    assert stack_for(length("0.4016", "mm"), mixed).size.unit is Unit.MM


def test_more_joints_are_less_certain():
    assert stack_for(length("18.5"), SET).standard_mm(0.2) == pytest.approx(0.2 * 3**0.5)


@pytest.mark.parametrize(
    ("low", "high", "tries"),
    [
        (None, None, "18"),  # first: is it long enough?
        ("18", None, "19.5"),  # then: is it too long?
        ("16", None, "18"),
        ("18", "20", "19.5"),
        (None, "20", "18"),
        (None, "18", "14.5"),  # short: close in on how short
        ("14.5", "18", "16"),
        ("17", "18", "17.5"),
    ],
)
def test_next_leaf_asks_what_is_not_known_yet(low, high, tries):
    bounds = Bounds(low and length(low), high and length(high), below_high=high is not None)
    assert next_stack(bounds, GAP, SET).size == length(tries)


@pytest.mark.parametrize(
    ("low", "high"),
    [
        ("18", "19.5"),  # good
        ("18", "18.5"),
        ("20", None),  # over, whatever else
        ("17.5", "18"),  # nothing in the drawer lies between
        ("19", "18"),  # they contradict each other
    ],
)
def test_no_other_leaf_is_asked_for_when_none_can_tell_more(low, high):
    bounds = Bounds(length(low), high and length(high), below_high=high is not None)
    assert next_stack(bounds, GAP, SET) is None


@settings(deadline=None, max_examples=200)
@given(st.decimals(min_value=2, max_value=40, places=2))
def test_trying_as_told_settles_every_gap_that_the_leaves_can(gap):
    """Whatever the gap is, a few leaves decide it, and decide it rightly."""
    true = Length(gap, Unit.THOU)
    bounds, tried = Bounds(), 0
    while True:
        stack = next_stack(bounds, GAP, SET)
        state = judge_bounds(GAP, bounds).state
        if stack is None or state in (State.GOOD, State.OVER) or (state is State.SHORT and tried > 5):
            break
        seen = Bounds.over(stack.size) if stack.size_mm <= true.mm else Bounds.under(stack.size)
        bounds = bounds.meet(seen)
        tried += 1
    assert tried <= 7
    truth = State.SHORT if gap < 18 else State.OVER if gap > Decimal("19.5") else State.GOOD
    # A gap of just the upper limit lets its leaf in, which only a thicker one can tell from over.
    assert state is truth or (state is State.OPEN and gap >= Decimal("19.5"))


@settings(deadline=None, max_examples=50)
@given(st.lists(st.integers(1, 60), min_size=1, max_size=9, unique=True))
def test_stacks_add_up_and_are_ordered(tenths):
    drawer = tuple(Length(Decimal(t).scaleb(-1), Unit.THOU) for t in tenths)
    made = stacks(drawer)
    assert [stack.size_mm for stack in made] == sorted({stack.size_mm for stack in made})
    for stack in made:
        assert sum((leaf.mm for leaf in stack.leaves), Fraction(0)) == stack.size_mm
        assert len(set(stack.leaves)) == len(stack.leaves) <= 3
