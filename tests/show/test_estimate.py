"""The estimate of what remains: a range or nothing."""

from datetime import UTC, datetime, timedelta

import pytest

from handsfree.show.view import estimate_words, time_left

pytestmark = pytest.mark.quick

START = datetime(2026, 11, 25, 9, 0, tzinfo=UTC)


def at(*minutes):
    return [START + timedelta(minutes=minute) for minute in minutes]


def test_even_work_gives_one_figure():
    low, high = time_left(at(0, 3, 6, 9, 12), 10)
    assert low == high == timedelta(minutes=30)


def test_uneven_work_gives_a_range_between_its_quartiles():
    """Quartiles of 1, 2, 4, 8: 1.75 and 5 by the inclusive method (statistics.quantiles)."""
    low, high = time_left(at(0, 1, 3, 7, 15), 4)
    assert (low, high) == (timedelta(minutes=7), timedelta(minutes=20))


@pytest.mark.parametrize("finished", [at(), at(0), at(0, 3, 6)])
def test_too_early_to_say_says_nothing(finished):
    assert time_left(finished, 10) is None
    assert estimate_words(time_left(finished, 10)) == ""


def test_nothing_left_says_nothing():
    assert time_left(at(0, 3, 6, 9, 12), 0) is None


def test_breaks_dont_count_as_work():
    assert time_left(at(0, 3, 6, 66, 69), 1) == (timedelta(minutes=3), timedelta(minutes=3))


@pytest.mark.parametrize(
    ("low", "high", "words"),
    [
        (0.2, 0.4, "1 min left"),
        (2.2, 4.4, "2 to 4 min left"),
        (21, 38, "20 to 40 min left"),
        (55, 130, "60 to 130 min left"),
    ],
)
def test_range_is_said_no_finer_than_it_is_known(low, high, words):
    assert estimate_words((timedelta(minutes=low), timedelta(minutes=high))) == words
