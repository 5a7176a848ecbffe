"""What filing teaches, and that the next pass is a safe one."""

import random
from decimal import Decimal
from fractions import Fraction

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy import stats

from handsfree.judge.filing import (
    FEWEST,
    LONGEST,
    RECENT,
    Pass,
    PassBasis,
    advise_pass,
    learn,
    removal_bound_mm,
    safe_turns,
)
from handsfree.length import Unit, length, millimetres_per
from handsfree.plan import Target
from tests.judge.filing_bench import Shop, file_rings

pytestmark = pytest.mark.quick

THOU = millimetres_per(Unit.THOU)
GAP = Target(length("18"), length("18"), length("19.5"))


def passes(*pairs):
    return [Pass(Decimal(str(turns)), Fraction(str(removed)) * THOU) for turns, removed in pairs]


TAUGHT = passes((10, "1.6"), (10, "1.4"), (8, "1.3"), (6, "0.9"))


def test_rate_is_least_squares_through_zero_and_exact():
    rate = learn(TAUGHT)
    assert rate.per_turn_mm == Fraction("45.8") / 300 * THOU
    assert rate.scatter_mm / float(THOU) == pytest.approx(0.09638, abs=5e-6)
    assert (rate.passes, rate.longest) == (4, 10)


def test_safe_turns_are_those_of_the_worked_example():
    rate = learn(TAUGHT)
    assert safe_turns(rate, 3.5 * float(THOU), 0.05) == 20
    assert safe_turns(rate, 3.0 * float(THOU), 0.05) == 17
    assert removal_bound_mm(rate, 20, 0.05) / float(THOU) == pytest.approx(3.400, abs=5e-4)
    assert removal_bound_mm(rate, 21, 0.05) / float(THOU) == pytest.approx(3.562, abs=5e-4)


def test_nothing_is_learned_from_nothing():
    assert learn([]) is None
    assert learn(passes((0, "1"))) is None
    assert learn(passes((5, "-0.5"))) is None
    assert learn(passes((5, "0"))) is None


def test_only_recent_passes_teach():
    old = passes(*[(10, "5")] * 20)
    new = passes(*[(10, "1")] * RECENT)
    assert learn(old + new).per_turn_mm == Fraction(1, 10) * THOU


def test_one_pass_has_a_rate_and_no_scatter():
    rate = learn(passes((5, "1")))
    assert rate.scatter_mm is None
    with pytest.raises(ValueError, match="no scatter"):
        removal_bound_mm(rate, 1, 0.05)


def test_unknown_rate_gives_what_is_left_and_no_turns():
    advice = advise_pass(None, GAP, length("15.5"))
    assert (advice.basis, advice.to_go, advice.turns, advice.about) == (
        PassBasis.UNKNOWN,
        length("2.5"),
        None,
        None,
    )


def test_few_passes_allow_at_most_half_of_what_is_left():
    rate = learn(passes((5, "1"), (5, "1")))
    advice = advise_pass(rate, GAP, length("12"))
    assert advice.basis is PassBasis.EARLY
    assert advice.about == 30
    assert advice.turns == 10  # half would be 15, and ten is twice the longest seen
    assert advice.risk is None
    assert advise_pass(rate, GAP, length("16")).turns == 5  # half of ten
    unsure = advise_pass(rate, GAP, length("16"), standard_mm=0.25 * float(THOU))
    assert unsure.turns < 5


@pytest.mark.parametrize(
    ("reading", "pace", "turns"),
    [
        ("17.4", PassBasis.EARLY, 1),  # two thou to spare below the upper limit, and 0.1 more
        ("17.6", PassBasis.BY_HAND, 0),  # 1.9: a turn that removes twice what the first did would go over
    ],
)
def test_one_turn_of_a_new_wheel_is_advised_only_where_twice_its_removal_has_room(reading, pace, turns):
    advice = advise_pass(learn(passes((2, "2"))), GAP, length(reading))
    assert (advice.basis, advice.turns) == (pace, turns)


def test_learned_pass_states_what_is_left_turns_and_risk():
    advice = advise_pass(learn(TAUGHT), GAP, length("14.5"), risk=0.05)
    assert (advice.basis, advice.to_go, advice.about, advice.risk) == (
        PassBasis.LEARNED,
        length("3.5"),
        23,
        0.05,
    )
    assert 0 < advice.turns <= 20
    assert advice.left_mm == length("3.5").mm - learn(TAUGHT).per_turn_mm * advice.turns


def test_last_pass_is_called_so():
    steady = learn(passes((10, "1.51"), (10, "1.49"), (10, "1.5"), (10, "1.5")))
    advice = advise_pass(steady, GAP, length("17.1"))
    assert (advice.basis, advice.turns, advice.about) == (PassBasis.LAST, 6, 6)


def test_no_safe_turn_is_left_to_the_hand():
    coarse = learn(passes((2, "4"), (2, "6"), (2, "5")))
    advice = advise_pass(coarse, GAP, length("17.5"))
    assert (advice.basis, advice.turns) == (PassBasis.BY_HAND, 0)


@pytest.mark.parametrize("reading", ["18", "18.5", "19.5", "25"])
def test_no_pass_is_advised_where_none_is_due(reading):
    assert advise_pass(learn(TAUGHT), GAP, length(reading)) is None


def test_amount_left_is_given_in_the_unit_asked_for():
    assert advise_pass(None, GAP, length("0.4", "mm"), unit=Unit.MM).to_go == length("0.0572", "mm")


@settings(deadline=None)
@given(
    st.lists(
        st.tuples(st.integers(1, 30), st.decimals(min_value="0.05", max_value=6, places=2)),
        min_size=1,
        max_size=15,
    ),
    st.decimals(min_value=0, max_value="17.9", places=1),
    st.decimals(min_value="0", max_value="0.5", places=2),
    st.sampled_from([0.01, 0.05, 0.2]),
)
def test_advice_never_goes_beyond_its_bounds(pairs, reading, standard, risk):
    rate = learn(passes(*pairs))
    advice = advise_pass(rate, GAP, length(reading), risk, float(standard) * float(THOU))
    assert advice.turns is not None
    assert 0 <= advice.turns <= LONGEST * rate.longest
    assert (advice.basis is PassBasis.BY_HAND) is (advice.turns == 0)
    # What is expected never passes the upper limit, and by the stated risk the bound doesn't either.
    assert length(reading).mm + rate.per_turn_mm * advice.turns <= GAP.upper.mm
    if rate.passes >= FEWEST and advice.turns:
        assert (
            float(length(reading).mm) + removal_bound_mm(rate, advice.turns, risk)
            <= float(GAP.upper.mm) + 1e-9
        )


@settings(deadline=None)
@given(
    st.decimals(min_value=5, max_value="17.9", places=1), st.decimals(min_value=5, max_value="17.9", places=1)
)
def test_nearer_the_aim_never_more_turns_are_safe(one, other):
    rate = learn(TAUGHT)
    far, near = (safe_turns(rate, float(GAP.aim.mm - length(v).mm), 0.05) for v in sorted((one, other)))
    assert near <= far


@settings(deadline=None)
@given(
    st.lists(
        st.tuples(st.integers(1, 30), st.decimals(min_value="-0.3", max_value=6, places=2)),
        min_size=2,
        max_size=12,
    ),
    st.integers(0, 50),
)
def test_more_filing_never_makes_a_gap_smaller(pairs, turns):
    """Whatever was learned, another turn is expected to remove more, at most and on the whole."""
    rate = learn(passes(*pairs))
    if rate is None:  # the readings shrank on the whole, and from that nothing is learned
        assert sum(turn * Decimal(str(removed)) for turn, removed in pairs[-RECENT:]) <= 0
        return
    assert rate.per_turn_mm > 0
    assert removal_bound_mm(rate, turns + 1, 0.05) > removal_bound_mm(rate, turns, 0.05)


@pytest.mark.parametrize(
    ("shop", "over"),
    [
        (Shop("steady hand, good leaves", pressure=0.05, leaf=0.1), 0.0004),
        (Shop("uneven pressure, worn leaves", pressure=0.25, leaf=0.25), 0.0069),
        (Shop("wheel that glazes", pressure=0.1, leaf=0.2, wear=0.03), 0.0009),
    ],
    ids=lambda value: value.name.replace(" ", "-") if isinstance(value, Shop) else "",
)
def test_simulated_rings_go_over_as_seldom_as_ten_thousand_did(shop, over):
    """The share is that of ten thousand rings in `tests/measure/filing.md`; 1,000 are filed here.

    The stated chance is 5 %, and the advice does far better; it is held to what it does: to what
    1,000 draws at that share exceed once in a thousand times (Poisson's distribution).
    """
    rings = 1000
    outcome = file_rings(shop, rings=rings, risk=0.05, rng=random.Random(20261125))
    assert outcome.over * rings <= stats.poisson.ppf(0.999, over * rings)
    assert outcome.passes < 5  # and it gets there
