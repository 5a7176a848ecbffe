"""Capability figures against a handbook, and against Python's statistics module, numpy and scipy."""

import statistics

import numpy as np
import pytest
from scipy import stats

from handsfree.export import capability

pytestmark = pytest.mark.quick


def scaled(mean, deviation, n=50, seed=3):
    """Give values with exactly this mean and standard deviation."""
    values = np.random.default_rng(seed).normal(size=n)
    return list((values - values.mean()) / values.std(ddof=1) * deviation + mean)


def test_the_handbooks_example():
    """NIST/SEMATECH e-Handbook of Statistical Methods, 6.1.6, "Process capability example" (from memory).

    Limits 8 and 20, mean 16, s 2: Cp 1.0, Cpk 0.6667.
    """
    found = capability(scaled(16, 2), (8, 20))
    assert found.cp == pytest.approx(1.0)
    assert found.cpk == pytest.approx(2 / 3, abs=1e-4)


def test_the_handbooks_interval_of_cpk():
    """Same section: Cpk 1.4 (or 0.97 after a shift) at n = 100 is uncertain by about 0.2 (or 0.14).

    The formula there is Cpk +- z sqrt(1 / 9n + Cpk^2 / (2 (n - 1))), from memory; computed apart here.
    """
    for cpk in (1.4, 0.97):
        found = capability(scaled(10 - 3 * cpk, 1, n=100), (-100, 10))
        assert found.cpk == pytest.approx(cpk)
        half = 1.959964 * (1 / 900 + cpk**2 / 198) ** 0.5
        assert found.cpk_interval == pytest.approx((cpk - half, cpk + half), abs=1e-6)


def test_mean_and_deviation_agree_with_the_standard_library():
    values = scaled(18.7, 0.4)
    found = capability(values, (18, 19.5))
    assert found.mean == pytest.approx(statistics.fmean(values), rel=1e-12)
    assert found.deviation == pytest.approx(statistics.stdev(values), rel=1e-12)


@pytest.mark.parametrize("confidence", [0.9, 0.95, 0.99])
def test_the_interval_of_the_mean_is_scipys(confidence):
    values = scaled(18.7, 0.4, n=12)
    wanted = stats.ttest_1samp(values, 0).confidence_interval(confidence)
    assert capability(values, (18, 19.5), confidence).mean_interval == pytest.approx(tuple(wanted))


def test_intervals_hold_the_truth_as_often_as_they_say():
    """Simulated: 4,000 samples of 20 from a normal process with Cp 1.0 and Cpk 0.8."""
    dice = np.random.default_rng(20261125)
    limits, mean, deviation = (-3.0, 3.0), 0.6, 1.0
    hits = {"mean": 0, "deviation": 0, "cp": 0, "cpk": 0}
    rounds = 4000
    for row in dice.normal(mean, deviation, (rounds, 20)):
        found = capability(list(row), limits)
        truth = {"mean": mean, "deviation": deviation, "cp": 1.0, "cpk": 0.8}
        for name, value in truth.items():
            low, high = getattr(found, f"{name}_interval")
            hits[name] += low <= value <= high
    for name in ("mean", "deviation", "cp"):  # exact intervals: 0.95 +- 4 standard errors
        assert hits[name] / rounds == pytest.approx(0.95, abs=0.014), name
    assert hits["cpk"] / rounds == pytest.approx(0.95, abs=0.03)  # an approximation
