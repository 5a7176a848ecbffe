"""The estimate of a gap when hot."""

from decimal import Decimal
from fractions import Fraction

import pytest

from handsfree.judge.fitting import butting_rise, closure_mm, hot_gap
from handsfree.length import length
from handsfree.plan import Hot, Material

pytestmark = pytest.mark.quick

THOU = Fraction("0.0254")
IRON = Material("grey iron", Decimal("10e-6"))
DUCTILE = Material("ductile iron", Decimal("11e-6"))
STEEL = Material("steel", Decimal("12e-6"))
ALUMINIUM = Material("aluminium", Decimal("23e-6"))
BORE = length("4.030", "in")
GAP = length("18.135")


def hot(ring, bore, rise, bore_rise, margin="1"):
    low, high = rise if isinstance(rise, tuple) else (rise, rise)
    return Hot(ring, bore, (Decimal(low), Decimal(high)), Decimal(bore_rise), length(margin))


@pytest.mark.parametrize(
    ("ring", "bore", "rise", "bore_rise", "closure", "margin", "butts"),
    [
        (DUCTILE, IRON, 200, 90, 16.459, 1.676, False),
        (DUCTILE, IRON, 240, 90, 22.029, -3.894, True),
        (STEEL, IRON, 200, 90, 18.991, -0.856, True),
        (DUCTILE, ALUMINIUM, 200, 90, 1.646, 16.489, False),
        (DUCTILE, IRON, 200, 0, 27.853, -9.718, True),
    ],
)
def test_closure_of_the_worked_examples(ring, bore, rise, bore_rise, closure, margin, butts):
    assumed = hot(ring, bore, rise, bore_rise)
    assert float(closure_mm(BORE, assumed, Decimal(rise)) / THOU) == pytest.approx(closure, abs=5e-4)
    left = hot_gap(GAP, BORE, assumed)
    assert float(left.least_mm / THOU) == pytest.approx(margin, abs=5e-4)
    assert left.butts is butts


def test_estimate_is_a_range_and_the_worse_end_decides():
    left = hot_gap(GAP, BORE, hot(DUCTILE, IRON, (200, 240), 90))
    assert float(left.least_mm / THOU) == pytest.approx(-3.894, abs=5e-4)
    assert float(left.most_mm / THOU) == pytest.approx(1.676, abs=5e-4)
    assert left.butts
    assert left.short
    assert "estimate" in left.remark
    assert "maker" in left.remark


@pytest.mark.parametrize(("margin", "short"), [("1.6", False), ("1.7", True)])
def test_less_than_the_margin_is_short_without_butting(margin, short):
    left = hot_gap(GAP, BORE, hot(DUCTILE, IRON, 200, 90, margin))
    assert (left.butts, left.short) == (False, short)


def test_rise_at_which_the_ends_meet():
    assert float(butting_rise(GAP, BORE, hot(DUCTILE, IRON, 200, 90))) == pytest.approx(212.0, abs=0.05)
    rise = butting_rise(GAP, BORE, hot(STEEL, IRON, 1, 50))
    assert closure_mm(BORE, hot(STEEL, IRON, 1, 50), rise) == GAP.mm
