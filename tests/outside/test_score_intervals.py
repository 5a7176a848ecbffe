"""Score intervals against scipy, percentiles against the standard library."""

from __future__ import annotations

import statistics

import pytest
from hypothesis import given
from hypothesis import strategies as st

from handsfree.recordings import Condition, ManifestRow, Scored, wilson
from handsfree.recordings.score import Z_95, timing

pytestmark = pytest.mark.quick


@given(st.integers(1, 5000).flatmap(lambda total: st.tuples(st.integers(0, total), st.just(total))))
def test_wilson_intervals_agree_with_scipy(pair: tuple[int, int]) -> None:
    # scipy.stats.binomtest(...).proportion_ci(method="wilson"), without continuity correction
    from scipy.stats import binomtest

    count, total = pair
    theirs = binomtest(count, total).proportion_ci(confidence_level=0.95, method="wilson")
    assert wilson(count, total) == pytest.approx((theirs.low, theirs.high), abs=1e-12)


@pytest.mark.parametrize(
    ("count", "total", "low", "high"),
    [(81, 263, 0.2553, 0.3662), (15, 148, 0.0624, 0.1605), (0, 20, 0.0, 0.1611), (1, 29, 0.0061, 0.1718)],
)
def test_wilson_intervals_agree_with_a_published_table(
    count: int, total: int, low: float, high: float
) -> None:
    # R. G. Newcombe, Statistics in Medicine 17 (1998), 857-872, table I, method 3 (from memory)
    assert wilson(count, total) == pytest.approx((low, high), abs=5e-5)


def test_the_normal_point_agrees_with_scipy() -> None:
    from scipy.stats import norm

    assert pytest.approx(norm.ppf(0.975), abs=1e-15) == Z_95


def test_percentiles_agree_with_the_standard_library() -> None:
    # statistics.quantiles with method="inclusive" interpolates as numpy's default does
    times = [3.0, 9.0, 4.5, 12.0, 7.25, 8.0, 100.0, 6.0]
    row = ManifestRow("a", "v", "word", "next")
    found = timing([Scored(row, Condition(), "right", True, ms, 1.0, ()) for ms in times])
    cuts = statistics.quantiles(times, n=100, method="inclusive")
    assert found["decode_ms_p50"] == pytest.approx(cuts[49], abs=0.06)
    assert found["decode_ms_p95"] == pytest.approx(cuts[94], abs=0.06)
