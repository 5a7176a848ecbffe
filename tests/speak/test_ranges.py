"""Many places in few words."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from handsfree.plan import Position
from handsfree.speak.phrasing import gathered, runs

pytestmark = pytest.mark.quick


def at(**labels):
    return Position.of({axis: str(label) for axis, label in labels.items()})


def test_places_that_differ_in_one_number_are_one_and_keep_their_count():
    places = [at(cylinder=n, ring="top") for n in (1, 2, 3)] + [at(cylinder=2, ring="second")]
    found = gathered(places)
    assert [(one.position.get("cylinder"), one.position.get("ring"), one.count) for one in found] == [
        ("1 to 3", "top", 3),
        ("2", "second", 1),
    ]


def test_places_without_a_number_stay_apart():
    assert [one.count for one in gathered([at(what="washed"), at(what="torqued")])] == [1, 1]


@given(st.sets(st.integers(1, 40), min_size=1))
def test_runs_hold_just_the_numbers_given(numbers):
    said = runs([str(number) for number in numbers])
    held = set()
    for part in said.replace(" and ", ", ").split(", "):
        first, _, last = part.partition(" to ")
        held |= set(range(int(first), int(last or first) + 1))
    assert held == numbers
