"""Rings to bores, and the bore that a ring which went over would still fit."""

import itertools
import random
from decimal import Decimal

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from handsfree.judge.fitting import fit_rings, other_bores, predicted_gap_mm
from handsfree.length import Length, Unit, length
from handsfree.plan import Target

pytestmark = pytest.mark.quick

THOU = 0.0254
EIGHTEEN = Target(length("18.0"), length("18.0"), length("18.0"))
RINGS = {"1": length("14.0"), "2": length("15.5"), "3": length("13.0"), "4": length("17.2")}
BORES = {"1": length("4.0300", "in"), "2": length("4.0304", "in"), "3": length("4.0297", "in"),
         "4": length("4.0301", "in")}  # fmt: skip
REFERENCE = length("4.0300", "in")


def test_gap_follows_the_bore_by_pi():
    assert predicted_gap_mm(length("17.2"), REFERENCE, BORES["2"]) / THOU == pytest.approx(18.4566, abs=5e-5)
    assert predicted_gap_mm(length("17.2"), REFERENCE, REFERENCE) / THOU == pytest.approx(17.2)


def test_rings_go_where_least_is_filed():
    fitting = fit_rings(RINGS, REFERENCE, BORES, dict.fromkeys(BORES, EIGHTEEN))
    assert {place.ring: place.bore for place in fitting.places} == {"1": "4", "2": "1", "3": "2", "4": "3"}
    left = [place.left_mm / THOU for place in fitting.places]
    assert left == pytest.approx([3.686, 2.500, 3.743, 1.742], abs=5e-4)
    assert fitting.cost_mm2 / THOU**2 == pytest.approx(36.884, abs=5e-4)
    assert (fitting.spare, fitting.empty) == ((), ())


def test_ring_that_no_bore_takes_is_spare_and_its_bore_empty():
    rings = {**RINGS, "4": length("25")}
    fitting = fit_rings(rings, REFERENCE, BORES, dict.fromkeys(BORES, EIGHTEEN))
    assert fitting.spare == ("4",)
    assert len(fitting.empty) == 1
    assert len(fitting.places) == 3


def test_wasting_no_ring_comes_before_filing_little():
    """Ring a fits both bores, ring b only the small one: a must leave it, though it files more so."""
    loose = Target(length("20"), length("20"), length("20"))
    bores = {"small": length("4.000", "in"), "large": length("4.001", "in")}
    targets = {"small": loose, "large": loose}
    rings = {"a": length("16"), "b": length("18")}
    fitting = fit_rings(rings, bores["small"], bores, targets)
    assert {place.ring: place.bore for place in fitting.places} == {"a": "large", "b": "small"}


def test_more_rings_than_bores_leave_some_spare_and_nothing_wrong():
    rings = {**RINGS, "5": length("16.0"), "6": length("10.0")}
    fitting = fit_rings(rings, REFERENCE, BORES, dict.fromkeys(BORES, EIGHTEEN))
    assert (len(fitting.places), len(fitting.spare), fitting.empty) == (4, 2, ())
    assert "6" in fitting.spare


def test_nothing_to_fit_gives_nothing():
    assert fit_rings({}, REFERENCE, BORES, {}).empty == tuple(BORES)
    assert fit_rings(RINGS, REFERENCE, {}, {}).spare == tuple(RINGS)


def test_ring_that_went_over_fits_a_smaller_bore_best_first():
    targets = dict.fromkeys("abc", Target(length("18"), length("18"), length("19.5")))
    bores = {"a": length("4.0300", "in"), "b": length("4.0294", "in"), "c": length("4.0290", "in")}
    places = other_bores(length("20.0"), length("4.0300", "in"), bores, targets)
    assert [place.bore for place in places] == ["b", "c"]  # 18.12 leaves nothing to file, 16.86 leaves 1.14
    assert other_bores(length("30"), length("4.0300", "in"), bores, targets) == ()


def test_other_bore_with_nothing_to_file_comes_first():
    targets = dict.fromkeys("bc", Target(length("18"), length("18"), length("19.5")))
    bores = {"b": length("4.0295", "in"), "c": length("4.0285", "in")}
    places = other_bores(length("20.0"), length("4.0300", "in"), bores, targets)
    assert places[0].bore == "b"
    assert places[0].left_mm == 0
    assert places[1].left_mm / THOU == pytest.approx(18 - 20 + 1.5 * 3.14159, abs=1e-3)


def test_doubt_about_the_reading_keeps_a_ring_out_of_a_tight_place():
    targets = {"b": Target(length("18"), length("18"), length("19.5"))}
    bores = {"b": length("4.0298", "in")}
    assert other_bores(length("20.0"), length("4.0300", "in"), bores, targets)
    assert not other_bores(length("20.0"), length("4.0300", "in"), bores, targets, standard_mm=0.3 * THOU)


@st.composite
def benches(draw):
    count = draw(st.integers(2, 5))
    gaps = draw(st.lists(st.decimals(min_value=10, max_value=20, places=1), min_size=count, max_size=count))
    tenths = draw(st.lists(st.integers(-10, 10), min_size=count, max_size=count))
    rings = {str(n): Length(gap, Unit.THOU) for n, gap in enumerate(gaps)}
    bores = {
        str(n): Length(Decimal("4.0300") + Decimal(t).scaleb(-4), Unit.INCH) for n, t in enumerate(tenths)
    }
    return rings, bores


def total(rings, bores, order, target):
    """Rings wasted, then squares of what is left, for one order."""
    wasted, squares = 0, 0.0
    for ring, bore in zip(rings, order, strict=True):
        gap = predicted_gap_mm(rings[ring], REFERENCE, bores[bore])
        if gap > float(target.upper.mm) + 1e-9:
            wasted += 1
        else:
            squares += max(0.0, float(target.aim.mm) - gap) ** 2
    return wasted, squares


@settings(deadline=None, max_examples=60)
@given(benches())
def test_fitting_equals_the_best_of_all_orders(bench):
    rings, bores = bench
    fitting = fit_rings(rings, REFERENCE, bores, dict.fromkeys(bores, EIGHTEEN))
    best = min(total(rings, bores, order, EIGHTEEN) for order in itertools.permutations(bores))
    assert len(fitting.spare) == best[0]
    assert fitting.cost_mm2 == pytest.approx(best[1], abs=1e-12)


def test_fitting_is_never_worse_than_any_of_a_thousand_random_orders():
    rng = random.Random(7)
    rings = {str(n): Length(Decimal(rng.randint(100, 185)).scaleb(-1), Unit.THOU) for n in range(16)}
    bores = {str(n): Length(Decimal(40300 + rng.randint(-9, 9)).scaleb(-4), Unit.INCH) for n in range(16)}
    fitting = fit_rings(rings, REFERENCE, bores, dict.fromkeys(bores, EIGHTEEN))
    ours = (len(fitting.spare), fitting.cost_mm2 - 1e-12)
    labels = list(bores)
    for _ in range(1000):
        rng.shuffle(labels)
        assert ours <= total(rings, bores, labels, EIGHTEEN)
