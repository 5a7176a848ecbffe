"""Differences of parts and shims, by the worked examples and by properties."""

from decimal import Decimal
from fractions import Fraction

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from handsfree.judge import State, certainty_of, judge_direct, judge_joint, judge_lash
from handsfree.judge.by_rule import standard_mm
from handsfree.judge.sums import exact_length, pick_shim
from handsfree.judge.verdict import Advice
from handsfree.length import Length, Unit, length
from handsfree.plan import Acceptance, Target
from handsfree.planfile import parse_plan

pytestmark = pytest.mark.quick

HEAD = 'format = 1\nname = "t"\n[engine]\nname = "e"\n'
BEARING = HEAD + (
    '[[instrument]]\nname = "bore gauge"\nstandard = "0.1 thou"\n'
    '[[instrument]]\nname = "micrometer"\nstandard = "0.05 thou"\n'
    '[[check]]\nname = "mains"\nrule = "difference"\nformula = "housing - 2 wall - journal"\n'
    "[check.axes]\nmain = 2\n"
    '[[check.part]]\nname = "housing"\nnominal = "2.225 in"\ninstrument = "bore gauge"\n'
    '[[check.part]]\nname = "wall"\nnominal = "0.0612 in"\ninstrument = "micrometer"\n'
    '[[check.part]]\nname = "journal"\nnominal = "2.1 in"\ninstrument = "micrometer"\n'
    '[[check.target]]\nlower = "1.5 thou"\nupper = "3 thou"\n'
)
LASH = HEAD + (
    '[[check]]\nname = "lash"\nrule = "shim"\nunit = "mm"\n[check.axes]\nvalve = 2\n'
    '[[check.part]]\nname = "shim"\nnominal = "2.6 mm"\n[[check.part]]\nname = "lash"\n'
    '[check.shims]\nleast = "2.00 mm"\nmost = "3.00 mm"\nstep = "0.05 mm"\n'
    '[[check.target]]\nlower = "0.13 mm"\nupper = "0.19 mm"\n'
)


def readings(check, item, **figures):
    return {check.at_part(item, name): length(*figure) for name, figure in figures.items()}


def test_clearance_is_exact_and_judged_in_the_unit_of_the_check():
    plan = parse_plan(BEARING)
    (check,) = plan.checks
    item = check.items[0]
    read = readings(check, item, housing=("2.2250", "in"), wall=("0.0612", "in"), journal=("2.1000", "in"))
    joint = judge_joint(plan, check, item, read)
    assert joint.value == length("2.6")  # 2.2250 - 2 * 0.0612 - 2.1000 in, as in the docstring
    assert joint.verdict.state is State.GOOD
    assert joint.missing == ()


def test_difference_waits_for_every_part_and_says_which():
    plan = parse_plan(BEARING)
    (check,) = plan.checks
    item = check.items[0]
    joint = judge_joint(plan, check, check.positions[0], readings(check, item, housing=("2.2250", "in")))
    assert joint.missing == ("wall", "journal")
    assert joint.value is None


def test_readings_of_another_item_do_not_count():
    plan = parse_plan(BEARING)
    (check,) = plan.checks
    read = readings(check, check.items[1], housing=("2", "in"), wall=("0.06", "in"), journal=("2.1", "in"))
    assert judge_joint(plan, check, check.items[0], read).missing == ("housing", "wall", "journal")


def test_parts_in_two_units_add_up_exactly():
    plan = parse_plan(BEARING)
    (check,) = plan.checks
    item = check.items[0]
    read = readings(check, item, housing=("2.2250", "in"), wall=("1.50", "mm"), journal=("2.1000", "in"))
    joint = judge_joint(plan, check, item, read)
    assert joint.value.unit is Unit.MM  # which holds it exactly, and thou would not
    assert joint.value.mm == length("2.225", "in").mm - 2 * length("1.50", "mm").mm - length("2.1", "in").mm
    assert joint.verdict.excess.unit is Unit.THOU


def test_clearance_above_its_limit_says_by_how_much():
    plan = parse_plan(BEARING)
    (check,) = plan.checks
    item = check.items[0]
    read = readings(check, item, housing=("2.2260", "in"), wall=("0.0612", "in"), journal=("2.1000", "in"))
    verdict = judge_joint(plan, check, item, read).verdict
    assert (verdict.state, verdict.excess, verdict.advice) == (State.OVER, length("0.6"), Advice.ABOVE_LIMIT)


def test_difference_carries_the_uncertainty_of_all_its_instruments():
    plan = parse_plan(BEARING.replace('name = "t"\n', 'name = "t"\nacceptance = "guarded"\n', 1))
    (check,) = plan.checks
    certainty = certainty_of(plan, check, check.positions[0])
    assert certainty.acceptance is Acceptance.GUARDED
    assert certainty.standard_mm == pytest.approx(0.15 * 0.0254)
    item = check.items[0]
    read = readings(check, item, housing=("2.2240", "in"), wall=("0.0612", "in"), journal=("2.1000", "in"))
    assert judge_joint(plan, check, item, read).verdict.state is State.UNCERTAIN  # 1.6, and 1.5 is the limit


def test_missing_instrument_leaves_the_uncertainty_unknown():
    plan = parse_plan(BEARING.replace('nominal = "2.1 in"\ninstrument = "micrometer"', 'nominal = "2.1 in"'))
    (check,) = plan.checks
    assert certainty_of(plan, check, check.positions[0]).standard_mm is None
    assert standard_mm(check, check.positions[0]) == pytest.approx(0.1 * 0.0254)
    assert standard_mm(check, check.positions[2]) is None


def test_parts_are_not_judged_one_by_one():
    plan = parse_plan(BEARING)
    with pytest.raises(ValueError, match="judged by its parts"):
        judge_direct(plan, plan.checks[0], plan.checks[0].positions[0], length("2.225", "in"))


WINDOW = Target(length("0.16", "mm"), length("0.13", "mm"), length("0.19", "mm"))
SIZES = tuple(Length(Decimal(200 + 5 * n).scaleb(-2), Unit.MM) for n in range(21))


def mm(value):
    return length(value, "mm")


@pytest.mark.parametrize(
    ("old", "lash", "choice", "predicted"),
    [
        ("2.60", "0.15", "2.60", "0.15"),  # good already: the shim stays
        ("2.72", "0.11", "2.65", "0.18"),  # 2.70 would be on the edge
        ("2.60", "0.05", "2.50", "0.15"),
        ("2.60", "0.25", "2.70", "0.15"),
        ("2.70", "0.12", "2.65", "0.17"),
        ("2.55", "0.0", "2.40", "0.15"),
    ],
)
def test_shim_brings_the_lash_nearest_the_middle(old, lash, choice, predicted):
    chosen = pick_shim(WINDOW, mm(old), mm(lash), SIZES)
    assert chosen.choice.mm == mm(choice).mm
    assert chosen.predicted.mm == mm(predicted).mm
    assert chosen.change is (old != choice)


def test_shim_to_one_wanted_lash_of_a_series():
    target = Target(mm("0.20"), mm("0.18"), mm("0.22"))
    chosen = pick_shim(target, mm("2.60"), mm("0.15"), SIZES)
    assert (chosen.ideal, chosen.choice) == (mm("2.55"), mm("2.55"))


def test_washers_for_end_float_take_the_same_form():
    target = Target(mm("0.15"), mm("0.10"), mm("0.20"))
    chosen = pick_shim(target, mm("4.85"), mm("0.28"), tuple(mm(f"4.{n}") for n in (90, 95, 98)))
    assert (chosen.ideal, chosen.choice, chosen.predicted) == (mm("4.98"), mm("4.98"), mm("0.15"))


def test_no_shim_in_the_drawer_does_is_said_so():
    chosen = pick_shim(WINDOW, mm("2.60"), mm("0.95"), SIZES)
    assert (chosen.choice, chosen.predicted, chosen.ideal) == (None, None, mm("3.39"))
    assert chosen.verdict.state is State.OVER


def test_of_two_shims_equally_near_the_thinner_is_taken():
    # 2.50 gives 0.185 and 2.55 gives 0.135: both 0.025 from the middle of 0.13 to 0.19
    chosen = pick_shim(WINDOW, mm("2.60"), mm("0.085"), (mm("2.55"), mm("2.50")))
    assert chosen.choice == mm("2.50")
    level = Target(mm("0.16"), mm("0.10"), mm("0.22"))
    assert pick_shim(level, mm("2.60"), mm("0.085"), (mm("2.50"), mm("2.55"))).choice == mm("2.50")


def test_shim_of_a_plan_is_picked_from_its_readings():
    plan = parse_plan(LASH)
    (check,) = plan.checks
    item = check.items[0]
    read = readings(check, item, shim=("2.72", "mm"), lash=("0.11", "mm"))
    joint = judge_joint(plan, check, item, read)
    assert joint.shim.choice == mm("2.65")
    assert joint.verdict.state is State.SHORT
    assert judge_joint(plan, check, item, readings(check, item, shim=("2.72", "mm"))).missing == ("lash",)


GUARDED_LASH = (
    LASH.replace(
        'name = "t"\n',
        'name = "t"\nacceptance = "guarded"\n[[instrument]]\nname = "feeler"\nstandard = "0.01 mm"\n'
        '[[instrument]]\nname = "micrometer"\nstandard = "0.001 mm"\n',
        1,
    )
    .replace('nominal = "2.6 mm"\n', 'nominal = "2.6 mm"\ninstrument = "micrometer"\n')
    .replace('name = "lash"\n[check.shims]', 'name = "lash"\ninstrument = "feeler"\n[check.shims]')
)


def guarded_lash(lash, acceptance="guarded"):
    plan = parse_plan(GUARDED_LASH.replace('acceptance = "guarded"', f'acceptance = "{acceptance}"'))
    (check,) = plan.checks
    item = check.items[0]
    read = readings(check, item, shim=("2.60", "mm"), lash=(lash, "mm"))
    return judge_joint(plan, check, item, read), judge_lash(plan, check, item, mm(lash))


@pytest.mark.parametrize(
    ("lash", "state"),
    [
        ("0.113", State.SHORT),  # 0.13 - 1.645 * 0.01 = 0.11355
        ("0.114", State.UNCERTAIN),
        ("0.13", State.UNCERTAIN),  # exactly on the limit: one chance in two
        ("0.146", State.UNCERTAIN),
        ("0.147", State.GOOD),  # 0.13 + 1.645 * 0.01 = 0.14645
        ("0.16", State.GOOD),
        ("0.19", State.UNCERTAIN),
        ("0.207", State.OVER),
    ],
)
def test_guarded_lash_near_its_limit_is_uncertain_and_no_shim_is_changed_for_it(lash, state):
    joint, alone = guarded_lash(lash)
    assert joint.verdict.state is alone.state is state
    match state:
        case State.UNCERTAIN:
            assert joint.verdict.advice is Advice.MEASURE_AGAIN
            assert (joint.shim.choice, joint.shim.predicted, joint.shim.change) == (None, None, False)
        case State.GOOD:
            assert (joint.shim.choice, joint.shim.change) == (mm("2.60"), False)
        case _:
            assert joint.shim.change
            assert joint.shim.choice is not None


def test_lash_is_trusted_as_far_as_its_own_instrument_and_not_as_that_of_the_shim():
    plan = parse_plan(GUARDED_LASH)
    (check,) = plan.checks
    for position in (check.items[0], *check.positions):
        assert certainty_of(plan, check, position).standard_mm == pytest.approx(0.01)


def test_simple_acceptance_of_a_lash_goes_by_its_limits_and_states_the_chance():
    joint, alone = guarded_lash("0.13", "simple")
    assert joint.verdict.state is alone.state is State.GOOD
    assert joint.shim.choice == mm("2.60")
    assert joint.verdict.probability == pytest.approx(0.5)


@settings(deadline=None)
@given(
    st.decimals(min_value=2, max_value=3, places=3), st.decimals(min_value=0, max_value=1, places=3),
)  # fmt: skip
def test_shim_that_is_offered_brings_the_lash_inside_and_none_is_nearer(old, lash):
    chosen = pick_shim(WINDOW, Length(old, Unit.MM), Length(lash, Unit.MM), SIZES)
    space = Fraction(old) + Fraction(lash)
    inside = [size for size in SIZES if WINDOW.lower.mm <= space - size.mm <= WINDOW.upper.mm]
    if chosen.choice is None:
        assert inside == []
        return
    assert chosen.predicted.mm == space - chosen.choice.mm
    assert WINDOW.lower.mm <= chosen.predicted.mm <= WINDOW.upper.mm
    if chosen.change:
        off = abs(chosen.predicted.mm - WINDOW.aim.mm)
        assert all(off <= abs(space - size.mm - WINDOW.aim.mm) for size in inside)


@settings(deadline=None)
@given(
    st.lists(
        st.tuples(
            st.decimals(min_value=-100, max_value=100, places=5),
            st.sampled_from(list(Unit)),
            st.sampled_from([Fraction(1), Fraction(-2), Fraction(1, 2), Fraction(1, 4)]),
        ),
        min_size=1,
        max_size=5,
    ),
    st.sampled_from(list(Unit)),
)
def test_sum_is_exact_in_whatever_units(terms, unit):
    total = sum((times * Length(value, own).mm for value, own, times in terms), Fraction(0))
    assert exact_length(total, {own for _, own, _ in terms}, unit).mm == total
