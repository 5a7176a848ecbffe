"""The uncertainty of a clearance against the packages uncertainties 3.2 and GTC 1.5."""

import GTC
import pytest
from uncertainties import correlated_values, ufloat

from handsfree.judge import sum_of_parts
from handsfree.judge.reading import sum_standard_mm
from handsfree.length import length
from handsfree.planfile import parse_plan

pytestmark = pytest.mark.quick

PLAN = """\
format = 1
name = "t"
[engine]
name = "e"
[[check]]
name = "mains"
rule = "difference"
formula = "housing - 2 wall - journal"
[check.axes]
main = 1
[[check.part]]
name = "housing"
nominal = "2.225 in"
[[check.part]]
name = "wall"
nominal = "0.0612 in"
[[check.part]]
name = "journal"
nominal = "2.1 in"
[[check.target]]
lower = "1 thou"
upper = "3 thou"
"""


def test_clearance_and_its_uncertainty_agree_with_both_packages():
    sizes = {
        "housing": length("2.2250", "in"),
        "wall": length("0.0612", "in"),
        "journal": length("2.1000", "in"),
    }
    value = sum_of_parts(parse_plan(PLAN).checks[0], sizes)
    standard = sum_standard_mm([(1, 0.10), (-2, 0.05), (-1, 0.05)])
    by_uncertainties = ufloat(2.2250, 0.0001) - 2 * ufloat(0.0612, 0.00005) - ufloat(2.1000, 0.00005)
    by_gtc = GTC.ureal(2.2250, 0.0001) - 2 * GTC.ureal(0.0612, 0.00005) - GTC.ureal(2.1000, 0.00005)
    assert value == length("2.6")
    for x, u in ((by_uncertainties.n, by_uncertainties.s), (by_gtc.x, by_gtc.u)):
        assert float(value.value) == pytest.approx(x * 1000)
        assert standard == pytest.approx(u * 1000)


def test_two_walls_measured_apart_are_less_uncertain_than_one_used_twice():
    apart = ufloat(2.2250, 0.0001) - ufloat(0.0612, 5e-5) - ufloat(0.0612, 5e-5) - ufloat(2.1, 5e-5)
    ours = sum_standard_mm([(1, 0.10), (-1, 0.05), (-1, 0.05), (-1, 0.05)])
    assert ours == pytest.approx(apart.s * 1000)
    assert ours == pytest.approx(0.132, abs=5e-4)


@pytest.mark.parametrize("correlation", [0.0, 0.5, 0.8, 1.0])
def test_correlated_bore_and_journal_agree_with_uncertainties(correlation):
    covariance = [[1e-8, correlation * 1e-8], [correlation * 1e-8, 1e-8]]
    bore, journal = correlated_values([2.1026, 2.1], covariance)
    ours = sum_standard_mm([(1, 0.1), (-1, 0.1)], correlation)
    assert ours == pytest.approx((bore - journal).s * 1000, abs=1e-7)


def test_three_correlated_parts_agree_with_gtc():
    parts = [GTC.ureal(1.0, u, independent=False) for u in (0.3, 0.2, 0.1)]
    for first in range(3):
        for second in range(first):
            GTC.set_correlation(0.6, parts[first], parts[second])
    total = parts[0] - 2 * parts[1] + parts[2]
    assert sum_standard_mm([(1, 0.3), (-2, 0.2), (1, 0.1)], 0.6) == pytest.approx(total.u)
