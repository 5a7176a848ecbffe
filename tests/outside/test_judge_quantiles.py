"""Quantiles, smoothing and assignments, which the program has of its own, against scipy."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy import optimize, signal, stats

from handsfree.judge import chi_square_quantile, student_quantile
from handsfree.judge.fitting import _assignment
from handsfree.recordings.noise import _smoothed

pytestmark = pytest.mark.quick

CHANCES = (0.005, 0.025, 0.05, 0.3, 0.9, 0.95, 0.975, 0.99, 0.995, 0.9995)
FREEDOMS = (1, 2, 3, 4, 5, 8, 9, 20, 31, 100, 999, 5000)


@pytest.mark.parametrize("chance", CHANCES)
def test_quantiles_are_scipys_to_eleven_digits(chance):
    for freedom in FREEDOMS:
        assert student_quantile(chance, freedom) == pytest.approx(stats.t.ppf(chance, freedom), rel=1e-11)
        wanted = stats.chi2.ppf(chance, freedom)
        assert chi_square_quantile(chance, freedom) == pytest.approx(wanted, rel=1e-11)


def test_the_middle_of_students_distribution_is_zero():
    assert student_quantile(0.5, 7) == pytest.approx(0, abs=1e-300)


COSTS = st.integers(1, 7).flatmap(
    lambda width: st.lists(
        st.lists(st.sampled_from([0.0, 0.25, 1.0, 2.5, 7.0, 100.0]), min_size=width, max_size=width),
        min_size=1,
        max_size=7,
    )
)


@settings(deadline=None)
@given(COSTS)
def test_assignment_costs_what_scipys_costs(costs):
    table = np.array(costs)
    rows, columns = optimize.linear_sum_assignment(table)
    ours = _assignment(costs)
    assert len({row for row, _ in ours}) == len({column for _, column in ours}) == min(table.shape)
    assert sum(table[pair] for pair in ours) == pytest.approx(table[rows, columns].sum(), abs=1e-9)


def test_assignment_without_ties_is_scipys_own():
    dice = np.random.default_rng(7)
    for shape in ((1, 1), (8, 8), (5, 12), (12, 5), (32, 32)):
        table = dice.random(shape)
        assert _assignment(table.tolist()) == list(zip(*optimize.linear_sum_assignment(table), strict=True))


@pytest.mark.parametrize("length", [0, 1, 255, 256, 257, 40_000])
def test_smoothing_is_scipys_filter(length):
    sound = np.abs(np.random.default_rng(length).normal(0, 0.2, length))
    keep = np.exp(-1 / (0.03 * 16_000))
    wanted = sound
    for _ in range(2):
        wanted = signal.lfilter([1 - keep], [1, -keep], wanted)
    assert np.allclose(_smoothed(sound, 16_000), wanted, rtol=1e-10, atol=1e-15)
