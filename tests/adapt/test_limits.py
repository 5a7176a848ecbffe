"""Thresholds of one person: a wrong value is worth a hundred questions."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from handsfree.adapt.learning import STRICTEST_FIT, STRICTEST_MARGIN, Weighed, cost, limits_for
from handsfree.recordings import wilson
from handsfree.understand import Thresholds

pytestmark = pytest.mark.quick

USUAL = Thresholds()
RIGHT = [Weighed(-0.05, margin, True) for margin in (3.0, 4.5, 7.0, 9.0)] * 5


def test_where_nothing_was_wrong_nothing_changes() -> None:
    assert limits_for(RIGHT) == USUAL


def test_a_wrong_value_makes_the_margin_just_strict_enough() -> None:
    limits = limits_for([*RIGHT, Weighed(-0.1, 3.6, False)])
    assert limits.sure_margin == 3.61
    assert cost([*RIGHT, Weighed(-0.1, 3.6, False)], limits) == 5  # the five at 3.0 are asked about


def test_a_wrong_value_that_fits_badly_makes_the_fit_stricter_rather_than_ask_often() -> None:
    limits = limits_for([*RIGHT, Weighed(-0.3, 5.5, False)])
    assert (limits.sure_fit, limits.sure_margin) == (-0.29, USUAL.sure_margin)


def test_a_wrong_value_as_sure_as_any_right_one_changes_nothing() -> None:
    assert limits_for([*RIGHT, Weighed(-0.05, 8.9, False)]) == USUAL


def test_a_wrong_value_that_would_be_asked_about_anyway_changes_nothing() -> None:
    assert limits_for([*RIGHT, Weighed(-0.1, USUAL.sure_margin - 0.1, False)]) == USUAL


@given(
    st.lists(
        st.builds(
            Weighed, st.floats(-2, 0).map(lambda x: round(x, 3)), st.floats(0, 9).map(lambda x: round(x, 3)),
            st.booleans(),
        ),
        max_size=60,
    )
)  # fmt: skip
def test_few_recordings_never_make_it_looser_and_never_cost_more(weighed: list[Weighed]) -> None:
    limits = limits_for(weighed)
    assert USUAL.sure_margin <= limits.sure_margin <= STRICTEST_MARGIN
    assert USUAL.sure_fit <= limits.sure_fit <= STRICTEST_FIT
    assert cost(weighed, limits) <= cost(weighed, USUAL)


@pytest.mark.parametrize(("between", "looser"), [(20, False), (380, False), (381, True)])
def test_it_is_made_looser_only_on_proof_of_less_than_one_wrong_in_a_hundred(
    between: int, looser: bool
) -> None:
    # Where none of n is wrong, the upper end of Wilson's interval is z^2 / (n + z^2): below 0.01 from
    # n = 99 z^2 on, 380.3 at 95 %. Source: NIST/SEMATECH e-Handbook, 7.2.4.1 (from memory).
    assert (wilson(0, between)[1] < 0.01) is looser
    weighed = [Weighed(-0.1, 2.2, True)] * between
    assert (limits_for(weighed).sure_margin < USUAL.sure_margin) is looser


def test_one_wrong_among_many_keeps_it_from_being_looser() -> None:
    weighed = [Weighed(-0.1, 2.2, True)] * 381 + [Weighed(-0.1, 2.2, False)]
    assert limits_for(weighed) == USUAL


def test_where_wrong_ones_may_be_missing_nothing_makes_it_looser_and_a_wrong_one_still_stricter() -> None:
    weighed = [Weighed(-0.1, 2.2, True)] * 500
    assert limits_for(weighed).sure_margin < USUAL.sure_margin
    assert limits_for(weighed, looser=False) == USUAL
    assert limits_for([*RIGHT, Weighed(-0.1, 3.6, False)], looser=False).sure_margin == 3.61
