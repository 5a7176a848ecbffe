"""Ids that sort by time."""

from datetime import UTC, datetime, timedelta
from uuid import UUID

import pytest
from hypothesis import given
from hypothesis import strategies as st

from handsfree.journal.event import Identities

pytestmark = pytest.mark.quick

moments = st.datetimes(datetime(2000, 1, 1), datetime(2100, 1, 1), timezones=st.just(UTC))


def test_the_standards_example():
    """RFC 9562, appendix A.6 (from memory): 2022-02-22 19:22:22 UTC, rand_a CC3, rand_b 18C4DC0C0C07398F."""
    random = 0xCC3 << 62 | 0x18C4DC0C0C07398F
    at = datetime(2022, 2, 22, 19, 22, 22, tzinfo=UTC)
    assert Identities(bits=lambda _: random).give(at) == "017f22e2-79b0-7cc3-98c4-dc0c0c07398f"


@given(st.lists(moments, max_size=20), st.integers(0, 2**74 - 1))
def test_each_is_greater_than_the_one_before_whatever_the_clock_and_the_dice_say(times, dice):
    identities = Identities(bits=lambda count: dice % 2**count)
    made = [identities.give(at) for at in times]
    assert made == sorted(set(made))
    assert all(UUID(one).version == 7 and UUID(one).variant == UUID(int=2 << 62).variant for one in made)


@given(moments)
def test_the_time_can_be_read_from_it(at):
    milliseconds = UUID(Identities().give(at)).int >> 80
    assert abs(datetime(1970, 1, 1, tzinfo=UTC) + timedelta(milliseconds=milliseconds) - at) < timedelta(
        milliseconds=1
    )


def test_it_goes_on_after_a_given_one_and_ignores_what_is_none():
    late = "ffffffff-fffe-7fff-bfff-ffffffffffff"
    now = datetime(2026, 11, 25, tzinfo=UTC)
    assert Identities(after=late).give(now) > late
    for other in ("", "no id", "6ba7b810-9dad-11d1-80b4-00c04fd430c8"):
        assert Identities(after=other).give(now).startswith("01a2")
