"""Rings to bores against scipy.optimize and brute force, and a rule that needs no solver."""

import itertools
import math

import numpy as np
import pytest
from scipy.optimize import linear_sum_assignment

from handsfree.judge.fitting import fit_rings, predicted_gap_mm
from handsfree.length import length
from handsfree.plan import Target

pytestmark = pytest.mark.quick

THOU = 0.0254
GAPS = [14.0, 15.5, 13.0, 17.2]
BORES = [4.0300, 4.0304, 4.0297, 4.0301]


def ours(limit):
    rings = {str(n): length(str(gap)) for n, gap in enumerate(GAPS)}
    bores = {str(n): length(str(bore), "in") for n, bore in enumerate(BORES)}
    target = Target(length("18"), length("18"), length(limit))
    return fit_rings(rings, length("4.0300", "in"), bores, dict.fromkeys(bores, target))


def test_worked_example_agrees_with_scipy_and_with_all_24_orders():
    gaps = np.array([[g + math.pi * (d - 4.0300) * 1000 for d in BORES] for g in GAPS])
    cost = np.where(gaps > 18, 1e6, (18.0 - gaps) ** 2)
    rows, columns = linear_sum_assignment(cost)
    assert columns.tolist() == [3, 0, 1, 2]
    fitting = ours("18")
    assert [int(place.bore) for place in fitting.places] == columns.tolist()
    assert fitting.cost_mm2 / THOU**2 == pytest.approx(cost[rows, columns].sum(), rel=1e-9)
    orders = itertools.permutations(range(4))
    assert fitting.cost_mm2 / THOU**2 == pytest.approx(
        min(sum(cost[i, j] for i, j in enumerate(order)) for order in orders), rel=1e-9
    )


def test_with_nothing_forbidden_the_largest_gap_goes_to_the_smallest_bore():
    """With squares the best order is the one that sorts rings and bores against each other."""
    fitting = ours("30")
    by_gap = sorted(range(4), key=lambda n: -GAPS[n])
    by_bore = sorted(range(4), key=lambda n: BORES[n])
    wanted = {str(ring): str(bore) for ring, bore in zip(by_gap, by_bore, strict=True)}
    # 17.2 in 4.0297 is 16.26, so nothing lies above the aim and the rule holds
    assert {place.ring: place.bore for place in fitting.places} == wanted


def test_prediction_is_the_change_of_the_circumference():
    """Of a circle by numpy's pi: the ring's own length stays, so the gap takes what is left over."""
    own = np.pi * 4.0300 - 0.0172
    gap = np.pi * 4.0304 - own
    predicted = predicted_gap_mm(length("17.2"), length("4.0300", "in"), length("4.0304", "in"))
    assert predicted / 25.4 == pytest.approx(gap, abs=1e-9)
