"""Readings that don't agree."""

import random

import pytest

from handsfree.judge.reading import disagreement, shrunk
from handsfree.length import length

pytestmark = pytest.mark.quick

U = 0.2 * 0.0254  # a fifth of a thou


@pytest.mark.parametrize(
    ("readings", "agree"),
    [
        ("18", True),
        ("18 18", True),
        ("18 18.5", True),  # within 2.772 * 0.2 = 0.554
        ("18 18.6", False),
        ("18 19", False),
        ("18 18.6 18.3", True),  # of three 0.663 may be expected
        ("18 18.7 18.3", False),
    ],
)
def test_readings_may_differ_by_what_the_instrument_should(readings, agree):
    found = disagreement([length(value) for value in readings.split()], U)
    assert (found is None) is agree
    if found is not None:
        assert found.least == length("18")
        assert found.greatest.mm > found.least.mm


def test_without_a_stated_instrument_half_a_thou_is_allowed():
    assert disagreement([length("18"), length("18.5")], None) is None
    assert disagreement([length("18"), length("18.6")], None) is not None


def test_only_the_last_ten_readings_count():
    assert disagreement([length("10"), *[length("18")] * 10], U) is None


def test_readings_in_two_units_are_compared():
    assert disagreement([length("18"), length("0.4572", "mm")], U) is None
    assert disagreement([length("18"), length("0.45", "mm")], 0.05 * 0.0254) is not None


@pytest.mark.parametrize(
    ("before", "now", "found"),
    [("16", "18", False), ("16", "16", False), ("16", "15.5", False), ("16", "15", True)],
)
def test_gap_that_seems_to_shrink_is_found(before, now, found):
    assert (shrunk(length(before), length(now), U) is not None) is found


def test_good_instruments_are_suspected_in_one_case_of_twenty():
    rng = random.Random(3)
    for count in (2, 3, 5):
        found = 0
        for _ in range(4000):
            readings = [length(str(round(18 + rng.gauss(0, 0.2), 6))) for _ in range(count)]
            found += disagreement(readings, U) is not None
        assert 0.04 < found / 4000 < 0.06
