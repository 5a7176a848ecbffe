"""Removal rates and prediction bounds against numpy 2 and scipy 1.17."""

import random
from decimal import Decimal
from fractions import Fraction

import numpy as np
import pytest
from scipy import stats
from scipy.optimize import curve_fit

from handsfree.judge.filing import Pass, learn, removal_bound_mm, safe_turns

pytestmark = pytest.mark.quick

TURNS = np.array([10.0, 10.0, 8.0, 6.0])
REMOVED = np.array([1.6, 1.4, 1.3, 0.9])


def taught(turns, removed):
    return learn(
        [
            Pass(Decimal(str(n)), Fraction(str(r)))
            for n, r in zip(turns.tolist(), removed.tolist(), strict=True)
        ]
    )


def cases():
    rng = random.Random(11)
    yield TURNS, REMOVED
    for _ in range(20):
        count = rng.randint(2, 12)
        turns = np.array([float(rng.randint(1, 20)) for _ in range(count)])
        removed = np.array([round(0.15 * n * rng.uniform(0.7, 1.3), 3) for n in turns])
        yield turns, removed


@pytest.mark.parametrize(("turns", "removed"), list(cases()))
def test_rate_and_scatter_agree_with_numpy_and_scipy(turns, removed):
    rate = taught(turns, removed)
    by_numpy = np.linalg.lstsq(turns[:, None], removed, rcond=None)[0][0]
    by_scipy, covariance = curve_fit(lambda n, k: k * n, turns, removed, p0=[0.1])
    assert float(rate.per_turn_mm) == pytest.approx(by_numpy, rel=1e-9)
    assert float(rate.per_turn_mm) == pytest.approx(by_scipy[0], rel=1e-6)
    standard_mm = rate.scatter_mm / float(rate.square_sum) ** 0.5  # of the removal of one turn
    assert standard_mm == pytest.approx(covariance[0][0] ** 0.5, rel=1e-5)


def test_worked_example_against_a_line_through_cumulated_gaps():
    """scipy.stats.linregress on cumulated turns and gap is a second, independent estimate: 0.152248."""
    line = stats.linregress(np.cumsum([0, *TURNS]), np.cumsum([0, *REMOVED]))
    assert line.slope == pytest.approx(0.152248, abs=5e-7)
    assert float(taught(TURNS, REMOVED).per_turn_mm) == pytest.approx(line.slope, rel=0.005)


@pytest.mark.parametrize("risk", [0.01, 0.05, 0.2])
@pytest.mark.parametrize("turns", [1, 10, 20, 21])
def test_prediction_bound_agrees_with_scipy_stats(turns, risk):
    rate = taught(TURNS, REMOVED)
    scatter = np.sqrt(np.sum((REMOVED - float(rate.per_turn_mm) * TURNS) ** 2) / 3)
    quantile = stats.t.ppf(1 - risk, 3)
    bound = float(rate.per_turn_mm) * turns + quantile * scatter * np.sqrt(1 + turns**2 / np.sum(TURNS**2))
    assert removal_bound_mm(rate, turns, risk) == pytest.approx(bound, rel=1e-9)


def test_most_safe_turns_is_the_last_that_the_bound_allows():
    rate = taught(TURNS, REMOVED)
    for room in (0.2, 1.0, 2.5, 3.5, 6.0):
        turns = safe_turns(rate, room, 0.05)
        inside = [m for m in range(1, 200) if removal_bound_mm(rate, m, 0.05) <= room]
        assert turns == max(inside, default=0)


def test_prediction_interval_holds_one_more_pass_as_often_as_it_says():
    """Monte Carlo with numpy's own generator: the bound at 5 % is passed in 5 % of cases."""
    rng = np.random.default_rng(5)
    over = 0
    for _ in range(4000):
        removed = 0.15 * TURNS + rng.normal(0, 0.1, 4)
        rate = taught(TURNS, removed)
        over += 0.15 * 12 + rng.normal(0, 0.1) > removal_bound_mm(rate, 12, 0.05)
    assert over / 4000 == pytest.approx(0.05, abs=0.01)
