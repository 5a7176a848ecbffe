"""Gaps and units of plans against scipy.constants and pint."""

import math
from fractions import Fraction

import pint
import pytest
from scipy import constants

from handsfree.length import Unit, in_unit, length, millimetres_per
from handsfree.plan import PI
from handsfree.plan.target import gap_change_mm, gap_for
from handsfree.planfile import written_length

pytestmark = pytest.mark.quick

PINT = pint.UnitRegistry(non_int_type=Fraction)
NAMES = {Unit.THOU: "thou", Unit.INCH: "inch", Unit.MM: "millimeter", Unit.MICRON: "micrometer"}


def test_inch_is_that_of_scipy_constants():
    assert written_length("1 in", None).mm == Fraction(str(constants.inch)) * 1000
    assert float(written_length("1 thou", None).mm) == pytest.approx(constants.mil * 1000, rel=1e-15)


@pytest.mark.parametrize("unit", list(Unit))
def test_the_factor_of_each_unit_is_that_of_pint_and_of_scipy(unit):
    scipy_m = {Unit.THOU: constants.mil, Unit.INCH: constants.inch, Unit.MM: constants.milli}
    scipy_m[Unit.MICRON] = constants.micro
    assert millimetres_per(unit) == PINT.Quantity(Fraction(1), NAMES[unit]).to("millimeter").magnitude
    assert float(millimetres_per(unit)) == pytest.approx(scipy_m[unit] * 1000, rel=1e-15)


@pytest.mark.parametrize("unit", list(Unit))
@pytest.mark.parametrize("figure", ["18", "0.45", "4.030", "0.0001"])
def test_written_length_is_what_pint_makes_of_it_exactly(unit, figure):
    ours = written_length(f"{figure} {unit}", None).mm
    assert ours == PINT.Quantity(Fraction(figure), NAMES[unit]).to("millimeter").magnitude


@pytest.mark.parametrize("unit", ["cm", "dm", "m", "nm", "micrometer", "ft", "yard", "microinch", "angstrom"])
@pytest.mark.parametrize("figure", ["0.45", "-4.030", "1.375"])
def test_length_in_a_unit_from_outside_the_shop_is_exactly_what_pint_makes_of_it(unit, figure):
    ours = written_length(f"{figure} {unit}", None).mm
    assert ours == PINT.Quantity(Fraction(figure), unit).to("millimeter").magnitude


@pytest.mark.parametrize(
    ("written", "mm"),
    [
        ("1 foot", "304.8"),  # 12 in of 25.4 mm each: the international inch and foot of 1959
        ("1 yard", "914.4"),  # 0.9144 m exactly: the international yard of 1959
        ("1 cm", "10"),  # SI prefixes
        ("1 nm", "0.000001"),
        ("1 microinch", "0.0000254"),
    ],
)
def test_units_from_outside_the_shop_are_those_of_the_standards(written, mm):
    assert written_length(written, None).mm == Fraction(mm)


def test_hundredths_of_a_millimetre_in_thou_are_the_fraction_that_pint_gives():
    """0.45 mm is 2250/127 thou, which no decimal holds."""
    assert PINT.Quantity(Fraction(45, 100), "mm").to("thou").magnitude == Fraction(2250, 127)
    assert length("0.45", "mm").mm / length("1").mm == Fraction(2250, 127)


def test_gap_of_a_factor_is_the_product_by_pint():
    gap = PINT.Quantity(Fraction("4.030"), "inch") * Fraction("0.0045")
    ours = gap_for(length("4.030", "in"), length("0.0045").value)
    assert ours == gap.to("millimeter").magnitude
    assert in_unit(ours, Unit.MM) == length("0.460629", "mm").value
    assert in_unit(ours, Unit.THOU) == length("18.135").value


def test_pi_is_that_of_the_mathematics_library_and_known_to_34_decimals():
    assert float(PI) == math.pi
    # the first decimals of pi, from memory, as in any table: ...3238462643383279502884197
    assert abs(PI - Fraction("3.14159265358979323846264338327950288419716939937510")) < Fraction(1, 10**34)


def test_gap_changes_with_the_circumference():
    """1.5 thou of taper is 4.712 thou of gap: 22.0 at the top is 17.288 lower down."""
    lower_down = length("22.0").mm - gap_change_mm(length("1.5").mm)
    assert float(lower_down / length("1").mm) == pytest.approx(22.0 - math.pi * 1.5, abs=1e-12)
    assert float(lower_down / length("1").mm) == pytest.approx(17.288, abs=5e-4)
