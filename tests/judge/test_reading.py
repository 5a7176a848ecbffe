"""A reading against its target: at each limit, one step either side, and beyond."""

from decimal import Decimal

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from handsfree.judge import Bounds, State
from handsfree.judge.reading import judge_bounds, judge_reading
from handsfree.judge.verdict import Advice
from handsfree.length import Length, Unit, length
from handsfree.plan import Acceptance, Certainty, Rule, Target

pytestmark = pytest.mark.quick

GAP = Target(length("18"), length("18"), length("19.5"))
LOOSE = Target(length("18"), length("17.5"), length("19.5"))
U_THOU = 0.0254


@pytest.mark.parametrize(
    ("reading", "state", "remaining", "excess"),
    [
        ("0", State.SHORT, "18", None),
        ("15.5", State.SHORT, "2.5", None),
        ("17.99", State.SHORT, "0.01", None),
        ("18", State.GOOD, None, None),
        ("18.0", State.GOOD, None, None),
        ("18.01", State.GOOD, None, None),
        ("19.49", State.GOOD, None, None),
        ("19.5", State.GOOD, None, None),
        ("19.51", State.OVER, None, "0.01"),
        ("22", State.OVER, None, "2.5"),
    ],
)
def test_both_limits_count_as_inside_and_one_step_beyond_does_not(reading, state, remaining, excess):
    verdict = judge_reading(GAP, length(reading))
    assert verdict.state is state
    assert verdict.remaining == (None if remaining is None else length(remaining))
    assert verdict.excess == (None if excess is None else length(excess))
    assert not verdict.at_least


def test_short_gap_is_to_be_filed_and_over_one_cannot_be_put_back():
    assert judge_reading(GAP, length("17")).advice is Advice.FILE
    assert judge_reading(GAP, length("20")).advice is Advice.OTHER_BORE_OR_NEW_RING
    assert judge_reading(GAP, length("18")).advice is Advice.NOTHING


def test_between_lower_limit_and_aim_is_good_and_asks_for_no_more_filing():
    verdict = judge_reading(LOOSE, length("17.5"))
    assert (verdict.state, verdict.remaining) == (State.GOOD, None)


def test_short_gap_goes_up_to_its_aim_and_not_to_its_lower_limit():
    assert judge_reading(LOOSE, length("17")).remaining == length("1")


def test_direct_reading_below_its_limit_misses_what_is_missing_to_the_limit():
    verdict = judge_reading(LOOSE, length("17"), Rule.LIMITS)
    assert verdict.remaining == length("0.5")
    assert verdict.advice is Advice.BELOW_LIMIT
    assert judge_reading(LOOSE, length("20"), Rule.LIMITS).advice is Advice.ABOVE_LIMIT


def test_reading_in_another_unit_is_compared_exactly():
    assert judge_reading(GAP, length("0.4572", "mm")).state is State.GOOD  # 18 thou exactly
    assert judge_reading(GAP, length("0.45719", "mm")).state is State.SHORT
    assert judge_reading(GAP, length("0.45", "mm")).remaining == length("0.0072", "mm")


def test_amount_can_be_asked_for_in_the_unit_of_the_bench():
    verdict = judge_reading(GAP, length("0.45", "mm"), unit=Unit.THOU)
    assert verdict.remaining == length("0.283465")  # 36/127 thou, rounded for showing
    assert verdict.remaining_mm == length("18").mm - length("0.45", "mm").mm  # and exactly


@pytest.mark.parametrize(
    ("bound", "leaf", "state", "advice", "remaining", "excess"),
    [
        ("under", "17", State.SHORT, Advice.FILE, "1", None),
        ("under", "18", State.SHORT, Advice.FILE, "0", None),  # the gap is truly less than 18
        ("under", "18.5", State.OPEN, Advice.TRY_THINNER, None, None),
        ("under", "19.5", State.OPEN, Advice.TRY_THINNER, None, None),
        ("under", "25", State.OPEN, Advice.TRY_THINNER, None, None),
        ("over", "10", State.OPEN, Advice.TRY_THICKER, None, None),
        ("over", "18", State.OPEN, Advice.TRY_THICKER, None, None),
        ("over", "19.5", State.OPEN, Advice.TRY_THICKER, None, None),
        ("over", "19.6", State.OVER, Advice.OTHER_BORE_OR_NEW_RING, None, "0.1"),
        ("over", "20", State.OVER, Advice.OTHER_BORE_OR_NEW_RING, None, "0.5"),
    ],
)
def test_one_leaf_decides_only_what_it_can(bound, leaf, state, advice, remaining, excess):
    verdict = judge_bounds(GAP, getattr(Bounds, bound)(length(leaf)))
    assert (verdict.state, verdict.advice) == (state, advice)
    assert verdict.remaining == (None if remaining is None else length(remaining))
    assert verdict.excess == (None if excess is None else length(excess))
    assert verdict.at_least is (state is not State.OPEN)


@pytest.mark.parametrize(
    ("goes", "stops", "state"),
    [
        ("18", "19.5", State.GOOD),
        ("18", "19", State.GOOD),
        ("17.5", "18", State.SHORT),
        ("17", "19", State.OPEN),
        ("19", "20", State.OPEN),
        ("20", "21", State.OVER),
        ("19.5", "20", State.OPEN),
        ("18", "18", State.UNCERTAIN),
        ("18", "17", State.UNCERTAIN),  # a thinner leaf can't stop where a thicker one goes
    ],
)
def test_two_leaves_hold_the_gap_between_them(goes, stops, state):
    verdict = judge_bounds(GAP, Bounds(length(goes), length(stops), below_high=True))
    assert verdict.state is state
    assert (verdict.advice is Advice.MEASURE_AGAIN) is (state is State.UNCERTAIN)


def test_leaves_tried_one_after_the_other_are_remembered():
    first = judge_bounds(GAP, Bounds.over(length("18")))
    second = judge_bounds(GAP, Bounds.under(length("19")).meet(first.bounds))
    assert (first.state, second.state) == (State.OPEN, State.GOOD)
    assert second.bounds == Bounds(length("18"), length("19"), below_high=True)


def test_meeting_bounds_keeps_the_tighter_end_of_each():
    leaf = Bounds(length("17"), length("19"), below_high=True)
    assert leaf.meet(Bounds.over(length("18"))) == Bounds(length("18"), length("19"), below_high=True)
    assert leaf.meet(Bounds.under(length("18.5"))).high == length("18.5")
    assert leaf.meet(Bounds(None, length("19"))).below_high  # less than 19 says more than at most 19
    assert Bounds().meet(Bounds()) == Bounds()
    assert not Bounds.over(length("18")).meet(Bounds.under(length("18"))).is_possible
    assert Bounds.exactly(length("18")).is_exact


def guarded(standard_thou):
    return Certainty(standard_thou * U_THOU, Acceptance.GUARDED, 0.95)


WIDE = Target(length("20"), length("18"), length("22"))


@pytest.mark.parametrize(
    ("reading", "state", "probability"),
    [
        ("17.1", State.SHORT, 0.0359),
        ("17.2", State.UNCERTAIN, 0.0548),
        ("18", State.UNCERTAIN, 0.5),
        ("18.4", State.UNCERTAIN, 0.7881),
        ("18.82", State.UNCERTAIN, 0.9495),
        ("18.83", State.GOOD, 0.9515),
        ("19", State.GOOD, 0.9772),
        ("20", State.GOOD, 0.9999),
        ("21.17", State.GOOD, 0.9515),
        ("21.18", State.UNCERTAIN, 0.9495),
        ("22.4", State.UNCERTAIN, 0.2119),
        ("22.9", State.OVER, 0.0359),
    ],
)
def test_guarded_acceptance_calls_what_is_near_a_limit_uncertain(reading, state, probability):
    verdict = judge_reading(WIDE, length(reading), certainty=guarded(0.5))
    assert verdict.state is state
    assert verdict.probability == pytest.approx(probability, abs=5e-5)
    if state is State.UNCERTAIN:
        assert verdict.advice is Advice.MEASURE_AGAIN
        assert verdict.remaining is None  # nobody files on a doubt


def test_simple_acceptance_with_an_uncertainty_only_adds_the_probability():
    verdict = judge_reading(WIDE, length("18.4"), certainty=Certainty(0.5 * U_THOU))
    assert (verdict.state, round(verdict.probability, 4)) == (State.GOOD, 0.7881)


def test_guarded_without_an_uncertainty_is_simple():
    assert (
        judge_reading(WIDE, length("18"), certainty=Certainty(None, Acceptance.GUARDED)).state is State.GOOD
    )


@pytest.mark.parametrize(
    ("goes", "stops", "state"),
    [
        ("19", "21", State.GOOD),
        ("18.5", "21", State.UNCERTAIN),
        ("16", "17", State.SHORT),
        ("17", "18", State.UNCERTAIN),
        ("23", "24", State.OVER),
        ("22.5", "24", State.UNCERTAIN),
        ("17", "19", State.OPEN),
    ],
)
def test_guarded_leaves_must_clear_the_limits(goes, stops, state):
    bounds = Bounds(length(goes), length(stops), below_high=True)
    assert judge_bounds(WIDE, bounds, certainty=guarded(0.5)).state is state


figures = st.decimals(min_value=0, max_value=60, places=3)
units = st.sampled_from(list(Unit))


@st.composite
def targets(draw):
    lower, first, second = (draw(figures) for _ in range(3))
    unit = draw(units)
    low, mid, high = sorted((lower, first, second))
    return Target(Length(mid, unit), Length(low, unit), Length(high, unit))


@settings(deadline=None)
@given(targets(), figures)
def test_remaining_and_reading_make_the_aim_and_excess_the_upper_limit(target, value):
    reading = Length(value, target.aim.unit)
    verdict = judge_reading(target, reading)
    if verdict.state is State.SHORT:
        assert verdict.remaining.value + value == target.aim.value
        assert verdict.remaining_mm + reading.mm == target.aim.mm
    if verdict.state is State.OVER:
        assert value - verdict.excess.value == target.upper.value


@settings(deadline=None)
@given(targets(), figures, figures, units)
def test_larger_reading_never_leaves_more(target, one, other, unit):
    less, more = (judge_reading(target, Length(value, unit)) for value in sorted((one, other)))
    order = [State.SHORT, State.GOOD, State.OVER]
    assert order.index(less.state) <= order.index(more.state)
    if less.state is more.state is State.SHORT:
        assert more.remaining_mm <= less.remaining_mm


@settings(deadline=None)
@given(targets(), figures, units, st.decimals(min_value="0.001", max_value=5, places=3))
def test_guarded_acceptance_is_inside_simple_acceptance(target, value, unit, standard):
    reading = Length(value, unit)
    simple = judge_reading(target, reading)
    strict = judge_reading(target, reading, certainty=guarded(float(standard)))
    assert strict.state in (simple.state, State.UNCERTAIN)


@settings(deadline=None)
@given(targets(), figures, figures, figures)
def test_leaves_never_contradict_the_gap_they_were_tried_on(target, gap, goes, stops):
    """Whatever two leaves say of a gap, the verdict holds for that gap or leaves it open."""
    unit = target.aim.unit
    bounds = Bounds()
    for leaf in (goes, stops):
        bounds = bounds.meet(
            Bounds.over(Length(leaf, unit)) if leaf <= gap else Bounds.under(Length(leaf, unit))
        )
    verdict = judge_bounds(target, bounds)
    truth = judge_reading(target, Length(gap, unit)).state
    assert verdict.state in (truth, State.OPEN)
    if verdict.state is State.SHORT and verdict.remaining is not None:
        assert verdict.remaining_mm <= target.aim.mm - Length(gap, unit).mm


@settings(deadline=None)
@given(figures, units, st.sampled_from(list(Unit)))
def test_units_round_trip_exactly(value, unit, through):
    """A length taken through any unit as an exact fraction comes back as it was."""
    from handsfree.length import millimetres_per

    start = Length(value, unit)
    there = start.mm / millimetres_per(through)
    assert there * millimetres_per(through) / millimetres_per(unit) == Decimal(value)
