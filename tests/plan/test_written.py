"""Lengths and formulas as a machinist writes them."""

from decimal import Decimal
from fractions import Fraction

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from handsfree.length import Length, Unit
from handsfree.planfile import written_length
from handsfree.planfile.parts import parse_formula
from handsfree.planfile.written import MOST_DIGITS, WrittenError, written_unit

pytestmark = pytest.mark.quick


@pytest.mark.parametrize(
    ("written", "value", "unit"),
    [
        ("18 thou", "18", Unit.THOU),
        ("18.50 thousandths", "18.50", Unit.THOU),
        ("4.030 in", "4.030", Unit.INCH),
        ('4.030"', "4.030", Unit.INCH),
        (".45 mm", "0.45", Unit.MM),
        ("0.45mm", "0.45", Unit.MM),
        ("-0.1 MM", "-0.1", Unit.MM),
        ("3 µm", "3", Unit.MICRON),
        ("3 microns", "3", Unit.MICRON),
        (" 7 ", "7", Unit.THOU),
    ],
)
def test_length_keeps_the_figure_and_unit_it_was_given(written, value, unit):
    assert written_length(written, Unit.THOU) == Length(Decimal(value), unit)
    assert str(written_length(written, Unit.THOU).value) == value  # trailing zeros too


@pytest.mark.parametrize(
    ("written", "value", "unit"),
    [
        ("1.5 cm", "15", Unit.MM),
        ("-1.50 cm", "-15", Unit.MM),
        ("0.25 ft", "3", Unit.INCH),
        ("0.1 m", "100", Unit.MM),
        ("1 micrometer", "1", Unit.MICRON),
        ("250 nm", "0.25", Unit.MICRON),
        ("20 microinch", "0.02", Unit.THOU),  # the finish of a bore in the trade's unit
        ("36 point", "0.5", Unit.INCH),  # 1/72 in each
        ("0 cm", "0", Unit.MM),
    ],
)
def test_length_in_another_unit_is_the_same_length_in_one_of_the_shops(written, value, unit):
    read = written_length(written, Unit.THOU)
    assert (str(read.value), read.unit) == (value, unit)


def test_a_sentence_on_an_unknown_unit_names_the_one_that_was_meant():
    with pytest.raises(WrittenError, match='"tou" is no unit of length here; did you mean "thou"'):
        written_length("18 tou", None)


def test_bare_number_takes_the_unit_of_its_place():
    assert written_length(Decimal("0.45"), Unit.MM) == Length(Decimal("0.45"), Unit.MM)


@pytest.mark.parametrize(
    ("written", "says"),
    [
        ("18 tou", 'did you mean "thou"'),
        ("18 mil", 'an angle or a length; write "thou"'),
        ("3 kg", "no unit of length"),
        ("3 in*2", "no unit of length"),
        ("3 mm**2", "no unit of length"),
        ("1 parsec", "no length of a bench|kept exactly"),
        ("18 km", "no length of a bench"),
        ("0.5 pin", "no length of a bench"),  # half a picoinch to pint, a slip to a person
        ("1 point", '1 point can\'t be kept exactly in 12 digits; write it in "in"'),  # 1/72 in
        ("1.23456789012 ft", "kept exactly"),  # 14 digits in inches
        ("eighteen", "write a figure and its unit"),
        ("18 19 thou", "no length"),
        ("1e3 thou", "no unit of length"),
        ("", "no length"),
        ("18,5 thou", "no unit of length"),
        ("1" * (MOST_DIGITS + 1) + " thou", "more than 12 digits"),
        (True, "true and false are no lengths"),
        (Decimal("1e400"), "no length of a bench"),
        (Decimal("1e-400"), "no length of a bench"),
        ("99999999 mm", "no length of a bench"),
        (Decimal("NaN"), "no number"),
        (Decimal("Infinity"), "no number"),
    ],
)
def test_what_is_no_length_says_what_to_write(written, says):
    with pytest.raises(WrittenError, match=says):
        written_length(written, Unit.THOU)


def test_figure_without_unit_where_one_is_needed_says_so():
    with pytest.raises(WrittenError, match="has no unit"):
        written_length("4.03", None)


@settings(deadline=None)
@given(
    st.decimals(min_value=-9999, max_value=9999, places=5, allow_nan=False),
    st.sampled_from(list(Unit)),
)
def test_written_out_and_read_again_is_the_same(value, unit):
    length = Length(value, unit)
    assert written_length(f"{value} {unit}", None) == length


@pytest.mark.parametrize("unit", list(Unit))
def test_every_unit_is_written_by_its_own_name(unit):
    assert written_unit(unit.value) is unit


@pytest.mark.parametrize(
    ("formula", "terms"),
    [
        ("housing - 2 shell - journal", {"housing": 1, "shell": -2, "journal": -1}),
        ("1/2 front + 1/2 rear", {"front": Fraction(1, 2), "rear": Fraction(1, 2)}),
        ("- rod height + 0.25*deck", {"rod height": -1, "deck": Fraction(1, 4)}),
    ],
)
def test_formula_gives_the_multiplier_of_each_part(formula, terms):
    assert parse_formula(formula) == terms


@pytest.mark.parametrize(
    ("formula", "says"),
    [
        ("", "empty"),
        ("bore journal -", "no sum of parts"),
        ("bore - bore", "twice"),
        ("1/3 front + 2/3 rear", "no finite decimal"),
        ("1/0 front + rear", "divides by zero"),
        ("0 front + rear", "no finite decimal"),
        ("bore ** journal", "no sum of parts"),
        ("Bore - Journal", "no sum of parts"),
    ],
)
def test_what_is_no_formula_says_why(formula, says):
    with pytest.raises(WrittenError, match=says):
        parse_formula(formula)
