"""Targets that are worked out: from the bore, by duty, by the maker, and from measured bores."""

from decimal import Decimal

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from handsfree.errors import PlanError
from handsfree.length import Length, Unit, length
from handsfree.plan import PI, Position, bore_shape, duties, measured_target
from handsfree.plan.target import added, gap_for, round_up
from handsfree.planfile import parse_plan

pytestmark = pytest.mark.quick


def ring(cylinder, name):
    return Position.of({"cylinder": str(cylinder), "ring": name})


def gaps(changed, *swaps):
    plan = changed(*swaps)
    return plan.checks[0]


def test_factor_of_the_bore_is_rounded_up_to_a_step(changed):
    check = gaps(changed, ('aim = "18 thou"', 'factor = "0.0045"'))
    target = check.target(ring(1, "top"))
    assert target.aim == length("18.5")
    assert (target.lower, target.upper) == (length("18.5"), length("20.0"))
    assert "bore 4.030 in times 0.0045 is 18.135 thou, up to 18.5 thou" in target.derivation


def test_factor_is_of_the_bore_of_that_very_cylinder(changed):
    check = gaps(
        changed,
        ('aim = "18 thou"', 'factor = "0.0045"'),
        ('bore = "4.030 in"', 'bore = "4.030 in"\nbores."3" = "4.120 in"'),
    )
    assert check.target(ring(2, "top")).aim == length("18.5")
    third = check.target(ring(3, "top"))
    assert third.aim == length("19.0")
    assert "bore of cylinder 3 4.120 in" in third.derivation


def test_duty_gives_the_usual_factor_and_is_marked_as_common_practice(changed):
    check = gaps(
        changed, ('aim = "18 thou"\n', ""), ('bore = "4.030 in"', 'bore = "4.030 in"\nduty = "road"')
    )
    target = check.target(ring(1, "top"))
    assert target.aim == length("18.5")
    assert "common practice, no source" in target.derivation


def test_makers_figure_wins_and_is_shown_as_such(changed):
    check = gaps(
        changed,
        ('aim = "18 thou"', 'aim = "18 thou"\nmaker = "17 thou"\nsource = "sheet 4"'),
        ('bore = "4.030 in"', 'bore = "4.030 in"\nduty = "road"'),
    )
    target = check.target(ring(1, "top"))
    assert target.aim == length("17")
    assert "the maker's figure 17 thou (sheet 4); it wins over the plan's 18 thou" in target.derivation


def test_given_aim_stands_before_the_duty(changed):
    check = gaps(changed, ('bore = "4.030 in"', 'bore = "4.030 in"\nduty = "heavy boost"'))
    assert check.target(ring(1, "top")).aim == length("18")


def test_oil_rail_has_the_usual_least_gap_whatever_the_bore(changed):
    check = gaps(
        changed,
        ('["top", "second"]', '["top", "oil rail"]'),
        ('ring = "second"\naim = "20 thou"\n', 'ring = "oil rail"\n'),
        ('bore = "4.030 in"', 'bore = "4.030 in"\nduty = "road"'),
    )
    target = check.target(ring(1, "oil rail"))
    assert target.aim == length("15.0")
    assert "common practice" in target.derivation


def test_second_ring_can_be_set_to_be_no_wider(changed):
    swaps = [('aim = "20 thou"\n', ""), ('bore = "4.030 in"', 'bore = "4.030 in"\nduty = "road"')]
    free = gaps(changed, *swaps).target(ring(1, "second")).aim
    swaps[1] = (swaps[1][0], swaps[1][1] + '\nsecond_ring = "narrower"')
    narrower = gaps(changed, *swaps).target(ring(1, "second")).aim
    assert (free, narrower) == (length("20.5"), length("18.5"))


@pytest.mark.parametrize(
    ("swaps", "says"),
    [
        ([('aim = "18 thou"', 'factor = "0.45"')], "no factor of a bore"),
        ([('aim = "18 thou"', 'factor = "abc"')], "no factor of a bore"),
        ([('aim = "18 thou"', 'factor = "0.0045"\nduty = "road"')], "keep one of them"),
        ([('aim = "18 thou"', 'factor = "0.0045"'), ('bore = "4.030 in"\n', "")], "needs the bore"),
        ([('aim = "18 thou"', 'duty = "rode"')], 'did you mean "road"'),
        (
            [
                ('"top", "second"', '"third", "second"'),
                ('ring = "top"\naim = "18 thou"', 'ring = "third"\nduty = "road"'),
            ],
            "no usual factor for cylinder 1, ring third",
        ),
        ([('order = "ring by ring"', "step = 0")], "isn't above zero"),
    ],
)
def test_target_that_cannot_be_worked_out_says_why(changed, swaps, says):
    with pytest.raises(PlanError, match=says):
        changed(*swaps)


def test_every_duty_asks_for_no_less_than_the_one_before():
    tops = [duty.factor("top") for duty in duties().values()]
    assert tops == sorted(tops)
    assert all(duty.factor("second") >= duty.factor("top") for duty in duties().values())


@settings(deadline=None)
@given(
    st.decimals(min_value="40", max_value="200", places=3),
    st.decimals(min_value="0.001", max_value="0.01", places=4),
    st.sampled_from(["0.5", "0.25", "0.01"]),
    st.sampled_from([Unit.THOU, Unit.MM]),
)
def test_rounding_up_never_gives_less_and_never_a_whole_step_more(bore, factor, step, unit):
    raw = gap_for(Length(bore, Unit.MM), factor)
    step = Length(Decimal(step), unit)
    up = round_up(raw, step)
    assert raw <= up.mm < raw + step.mm
    assert (up.value / step.value) % 1 == 0


@settings(deadline=None)
@given(
    st.decimals(min_value=0, max_value=100, places=4),
    st.decimals(min_value=0, max_value=10, places=4),
    st.sampled_from(list(Unit)),
    st.sampled_from(list(Unit)),
    st.sampled_from([1, -1]),
)
def test_adding_a_tolerance_in_any_unit_is_exact(aim, tolerance, one, other, sign):
    aim, tolerance = Length(aim, one), Length(tolerance, other)
    assert added(aim, tolerance, sign).mm == aim.mm + sign * tolerance.mm


MEASURED = """\
format = 1
name = "t"
[engine]
name = "e"
bore = "4.030 in"

[[check]]
name = "bores"
rule = "limits"
unit = "in"
[check.axes]
cylinder = 2
depth = ["upper", "lower"]
direction = ["across", "along"]
[[check.target]]
lower = "4.029 in"
upper = "4.035 in"

[[check]]
name = "ring gaps"
rule = "file to gap"
bores_from = "bores"
gap_at = "upper"
[check.axes]
cylinder = 2
ring = ["top", "second"]
[[check.target]]
factor = "0.0045"
plus = "1.5 thou"
"""


def read(cylinder, **inches):
    return {
        Position.of({"cylinder": str(cylinder), "depth": depth, "direction": direction}): length(value, "in")
        for depth, values in inches.items()
        for direction, value in zip(("across", "along"), values, strict=False)
    }


def test_tightest_place_gives_the_gap_and_a_wider_place_is_judged_by_pi():
    plan = parse_plan(MEASURED)
    check = plan.check("ring gaps")
    readings = read(1, upper=("4.0320", "4.0310"), lower=("4.0300", "4.0300"))
    target = measured_target(plan, check, ring(1, "top"), readings)
    # tightest 4.0300: 18.135, up to 18.5; upper is 1.5 thou wider: pi * 1.5 = 4.712, up to 5
    assert target.aim == length("23.5")
    assert (target.lower, target.upper) == (length("23.5"), length("25.0"))
    assert "tightest, at lower" in target.derivation
    assert "1.5 thou wider at upper" in target.derivation


def test_reading_that_meets_the_shifted_target_has_its_gap_at_the_tightest_place():
    plan = parse_plan(MEASURED)
    readings = read(1, upper=("4.0320", "4.0310"), lower=("4.0300", "4.0300"))
    target = measured_target(plan, plan.check("ring gaps"), ring(1, "top"), readings)
    own = plan.check("ring gaps").target(ring(1, "top"))
    tight = target.lower.mm - PI * length("1.5").mm
    assert tight >= own.lower.mm


def test_bore_without_taper_changes_nothing_but_the_words():
    plan = parse_plan(MEASURED)
    check = plan.check("ring gaps")
    target = measured_target(plan, check, ring(1, "top"), read(1, upper=("4.030",), lower=("4.030",)))
    assert target.aim == check.target(ring(1, "top")).aim


def test_other_cylinders_readings_do_not_count():
    plan = parse_plan(MEASURED)
    check = plan.check("ring gaps")
    assert measured_target(plan, check, ring(1, "top"), read(2, upper=("4.034",))) == check.target(
        ring(1, "top")
    )


def test_oval_bore_counts_by_the_mean_of_its_diameters():
    plan = parse_plan(MEASURED)
    shape = bore_shape(plan.check("bores"), ring(1, "top"), read(1, upper=("4.032", "4.030")), "upper")
    assert shape.tight_mm == length("4.031", "in").mm
    assert shape.readings == 2


@pytest.mark.parametrize(
    ("old", "new", "says"),
    [
        ('bores_from = "bores"', 'bores_from = "bore"', 'did you mean "bores"'),
        ('gap_at = "upper"', 'gap_at = "uper"', 'did you mean "upper"'),
        ('bores_from = "bores"\n', "", '"gap_at" needs "bores_from"'),
        ('bores_from = "bores"', 'bores_from = "ring gaps"', "no check with limits"),
    ],
)
def test_bores_that_nobody_measures_are_refused(old, new, says):
    with pytest.raises(PlanError, match=says):
        parse_plan(MEASURED.replace(old, new, 1))


@pytest.mark.parametrize(
    ("upper", "bore_ends", "pin_ends"),
    [
        ("3 thou", ("1.99", "2.01"), ("49.746", "50.254")),  # five tolerances of two thou
        ("901 thou", ("1.6", "2.4"), ("40", "60")),  # a fifth, since five tolerances are more
    ],
)
def test_plausible_sizes_of_a_part_are_five_tolerances_and_at_most_a_fifth_to_either_side(
    upper, bore_ends, pin_ends
):
    plan = parse_plan(
        'format = 1\nname = "t"\n[engine]\nname = "e"\n[[check]]\nname = "fit"\nrule = "difference"\n'
        'formula = "bore - pin"\n[check.axes]\ncylinder = 1\n'
        '[[check.part]]\nname = "bore"\nnominal = "2.000 in"\n'
        '[[check.part]]\nname = "pin"\nnominal = "50.00 mm"\n'
        f'[[check.target]]\nlower = "1 thou"\nupper = "{upper}"\n'
    )
    (check,) = plan.checks
    bore, pin = check.positions
    assert [end.mm for end in check.windows[bore]] == [length(v, "in").mm for v in bore_ends]
    assert [end.mm for end in check.windows[pin]] == [length(v, "mm").mm for v in pin_ends]


def test_a_bore_read_directly_is_looked_for_within_ten_times_the_makers_span():
    """A digit lost from 79.51 is asked about; a fifth to either side would have let 70 and 90 pass."""
    plan = parse_plan(
        'format = 1\nname = "t"\n[engine]\nname = "e"\n[[check]]\nname = "bores"\nrule = "limits"\n'
        'unit = "mm"\n[check.axes]\ncylinder = 1\n[[check.target]]\nlower = "79.50 mm"\nupper = "79.52 mm"\n'
    )
    (check,) = plan.checks
    low, high = check.windows[check.positions[0]]
    assert (low.mm, high.mm) == (length("79.41", "mm").mm, length("79.61", "mm").mm)
