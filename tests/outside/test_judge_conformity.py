"""Chances of conformity and guard bands against scipy.stats, the error function and Monte Carlo."""

import math

import numpy as np
import pytest
from scipy import stats

from handsfree.judge import judge_joint
from handsfree.judge.reading import (
    RANGE_FACTORS,
    acceptance_zone_mm,
    chances,
    disagreement,
    guard_mm,
    interval_estimate_mm,
    judge_reading,
)
from handsfree.length import length
from handsfree.plan import Acceptance, Certainty, Rule, Target
from handsfree.planfile import parse_plan

pytestmark = pytest.mark.quick

THOU = 0.0254
TARGET = Target(length("20"), length("18"), length("22"))
READINGS = ["17.1", "18.0", "18.4", "18.8224", "19.0", "20.0", "22.4", "25"]


@pytest.mark.parametrize("reading", READINGS)
@pytest.mark.parametrize("standard", [0.1, 0.5, 2.0])
def test_chances_agree_with_scipy_and_the_error_function(reading, standard):
    chance = chances(TARGET, length(reading), standard * THOU)
    x = float(reading)
    by_scipy = stats.norm.cdf((22 - x) / standard) - stats.norm.cdf((18 - x) / standard)
    by_erf = (math.erf((22 - x) / standard / 2**0.5) - math.erf((18 - x) / standard / 2**0.5)) / 2
    assert chance.within == pytest.approx(by_scipy, abs=1e-12)
    assert chance.within == pytest.approx(by_erf, abs=1e-12)
    assert chance.below + chance.within + chance.above == pytest.approx(1)


def test_chance_agrees_with_two_million_draws():
    """JCGM 101 propagates distributions so: draw, count."""
    draws = np.random.default_rng(1).normal(18.4, 0.5, 2_000_000)
    counted = np.mean((draws >= 18) & (draws <= 22))
    assert chances(TARGET, length("18.4"), 0.5 * THOU).within == pytest.approx(counted, abs=0.001)


SHIMMED = """
format = 1
name = "t"
acceptance = "guarded"
[engine]
name = "e"
[[instrument]]
name = "feeler"
standard = "0.5 thou"
[[check]]
name = "lash"
rule = "shim"
unit = "thou"
instrument = "feeler"
[check.axes]
valve = 1
[[check.part]]
name = "shim"
nominal = "102 thou"
[[check.part]]
name = "lash"
[check.shims]
sizes = ["98 thou", "100 thou", "102 thou", "106 thou"]
[[check.target]]
lower = 18
upper = 22
"""


@pytest.mark.parametrize("reading", [*READINGS, "17.17", "17.18", "18.82", "18.83", "21.17", "21.18"])
def test_guarded_lash_is_good_short_or_over_only_where_scipy_gives_95_percent(reading):
    """A lash is judged as any figure is: by scipy's normal distribution, and by `limits` beside it."""
    shimmed = parse_plan(SHIMMED)
    check = shimmed.checks[0]
    (item,) = check.items
    lash = length(reading)
    read = {check.at_part(item, "shim"): length("102"), check.at_part(item, "lash"): lash}
    joint = judge_joint(shimmed, check, item, read)
    x = float(reading)
    sure = {
        "short": stats.norm.cdf(18, x, 0.5),
        "good": stats.norm.cdf(22, x, 0.5) - stats.norm.cdf(18, x, 0.5),
        "over": stats.norm.sf(22, x, 0.5),
    }
    expected = next((state for state, chance in sure.items() if chance >= 0.95), "uncertain")
    assert joint.verdict.state.value == expected
    assert joint.verdict.probability == pytest.approx(sure["good"], abs=1e-12)
    certainty = Certainty(0.5 * THOU, Acceptance.GUARDED)
    assert judge_reading(check.target(item), lash, Rule.LIMITS, check.unit, certainty).state.value == expected
    assert (joint.shim.choice is None) == (expected == "uncertain")


@pytest.mark.parametrize("confidence", [0.9, 0.95, 0.99])
def test_guard_band_agrees_with_scipy(confidence):
    assert guard_mm(0.5, confidence) == pytest.approx(stats.norm.ppf(confidence) * 0.5, abs=1e-12)


def test_acceptance_zone_is_that_of_the_published_rule_where_limits_are_wide():
    """Limits shrunk by 1.6449 u at both ends: 18.8224 to 21.1776 thou for u = 0.5."""
    low, high = acceptance_zone_mm(TARGET, 0.5 * THOU, 0.95)
    assert low / THOU == pytest.approx(18 + stats.norm.ppf(0.95) * 0.5, abs=1e-5)
    assert high / THOU == pytest.approx(22 - stats.norm.ppf(0.95) * 0.5, abs=1e-5)


def test_no_zone_is_left_where_even_the_middle_is_not_sure_enough():
    for standard in (0.9, 1.0, 1.05, 1.5, 3.0):
        sure = stats.norm.cdf(2 / standard) - stats.norm.cdf(-2 / standard)
        assert (acceptance_zone_mm(TARGET, standard * THOU, 0.95) is None) == (sure < 0.95)


def test_interval_between_leaves_has_the_moments_of_a_rectangle():
    middle, standard = interval_estimate_mm(length("18"), length("19"))
    rectangle = stats.uniform(18 * THOU, THOU)
    assert middle == pytest.approx(rectangle.mean())
    assert standard == pytest.approx(rectangle.std())


@pytest.mark.parametrize("count", sorted(RANGE_FACTORS))
def test_critical_ranges_agree_with_the_studentised_range(count):
    factor = stats.studentized_range.ppf(0.95, count, math.inf)
    assert RANGE_FACTORS[count] == pytest.approx(factor, abs=6e-4)
    # ISO 5725-6 prints 2.8, 3.3, 3.6, 3.9, 4.0, 4.2, 4.3, 4.4, 4.5 for two to ten (from memory)
    printed = [2.8, 3.3, 3.6, 3.9, 4.0, 4.2, 4.3, 4.4, 4.5]
    assert round(RANGE_FACTORS[count], 1) == printed[count - 2]


def test_two_readings_of_one_normal_thing_disagree_in_one_case_of_twenty():
    pairs = np.random.default_rng(2).normal(18, 0.2, (4000, 2)).round(6)
    found = sum(
        disagreement([length(str(a)), length(str(b))], 0.2 * THOU) is not None for a, b in pairs.tolist()
    )
    assert found / 4000 == pytest.approx(0.05, abs=0.012)
