"""What comes next, what was missed, what is left."""

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from handsfree.judge import State, next_position, whats_left
from handsfree.plan import Position
from handsfree.planfile import parse_plan

pytestmark = pytest.mark.quick

PLAN = """\
format = 1
name = "t"
[engine]
name = "e"
[[check]]
name = "ring gaps"
rule = "file to gap"
order = "ring by ring"
[check.axes]
cylinder = 4
ring = ["top", "second"]
[[check.target]]
aim = 18
plus = 1
"""
CHECK = parse_plan(PLAN).checks[0]
PLACES = CHECK.positions


def at(cylinder, ring):
    return Position.of({"cylinder": str(cylinder), "ring": ring})


def test_next_is_by_the_plan_s_own_order():
    assert next_position(CHECK, set()) == at(1, "top")
    assert next_position(CHECK, {at(1, "top")}, at(1, "top")) == at(2, "top")
    assert next_position(CHECK, set(PLACES[:4]), at(4, "top")) == at(1, "second")


def test_next_skips_what_was_read_and_turns_back_to_what_was_missed():
    read = {at(1, "top"), at(3, "top"), *PLACES[4:]}
    assert next_position(CHECK, read, at(1, "top")) == at(2, "top")
    assert next_position(CHECK, read | {at(2, "top")}, at(4, "second")) == at(4, "top")


def test_nothing_is_next_when_all_was_read():
    assert next_position(CHECK, set(PLACES), at(1, "top")) is None


def test_unknown_position_in_hand_begins_at_the_first():
    assert next_position(CHECK, set(), at(99, "top")) == at(1, "top")


def test_left_sorts_positions_by_what_they_need():
    states = {
        at(1, "top"): State.GOOD,
        at(2, "top"): State.SHORT,
        at(3, "top"): State.UNCERTAIN,
        at(4, "top"): State.OPEN,
        at(1, "second"): State.OVER,
    }
    left = whats_left(CHECK, states)
    assert left.short == (at(2, "top"),)
    assert left.unsettled == (at(3, "top"), at(4, "top"))
    assert left.over == (at(1, "second"),)
    assert left.unread == (at(2, "second"), at(3, "second"), at(4, "second"))
    assert (left.good, left.total, left.is_done) == (1, 8, False)


def test_wholly_unread_ring_is_named_in_one_breath():
    left = whats_left(CHECK, dict.fromkeys(PLACES[:3], State.GOOD))
    assert left.whole == (("ring", "second"),)
    assert left.loose == (at(4, "top"),)


def test_wholly_unread_cylinders_are_named_where_that_says_more():
    read = [at(1, "top"), at(1, "second")]
    left = whats_left(CHECK, dict.fromkeys(read, State.GOOD))
    assert {axis for axis, _ in left.whole} == {"cylinder"}
    assert left.loose == ()


def test_everything_good_is_done_and_may_close():
    left = whats_left(CHECK, dict.fromkeys(PLACES, State.GOOD))
    assert (left.is_done, left.whole, left.unread) == (True, (), ())


def test_short_ring_keeps_nothing_from_closing():
    left = whats_left(CHECK, {**dict.fromkeys(PLACES, State.GOOD), at(1, "top"): State.SHORT})
    assert (left.is_done, left.unread) == (False, ())


@settings(deadline=None)
@given(st.sets(st.sampled_from(PLACES)))
def test_going_on_to_next_visits_every_unread_position_once(read):
    visited, here, done = [], None, set(read)
    while (here := next_position(CHECK, done, here)) is not None:
        visited.append(here)
        done.add(here)
    assert sorted(visited) == sorted(set(PLACES) - read)


@settings(deadline=None)
@given(st.dictionaries(st.sampled_from(PLACES), st.sampled_from(list(State))))
def test_every_position_stands_in_one_list(states):
    left = whats_left(CHECK, states)
    assert left.good + sum(map(len, (left.unread, left.short, left.unsettled, left.over))) == left.total
    covered = {p for p in left.unread if any(p.get(axis) == label for axis, label in left.whole)}
    assert covered | set(left.loose) == set(left.unread)
    assert not covered & set(left.loose)
