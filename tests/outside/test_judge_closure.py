"""Closure when hot against the exact form, and expansion against published material data."""

import math
from decimal import Decimal

import pymat
import pytest

from handsfree.judge.fitting import closure_mm, hot_gap
from handsfree.length import length
from handsfree.plan import Hot, Material, materials

pytestmark = pytest.mark.quick

# ThermalExpansionCoefficient in m/m/K of the material cards of Debian's freecad-common 0.20.2 (LGPL),
# as read there.
CARDS = {
    "grey iron": {
        "Steel-EN-GJL-200": "0.00001",
        "Steel-EN-GJL-250": "0.00001",
        "Steel-EN-GJL-300": "0.00001",
    },
    "ductile iron": {"Steel-EN-GJS-400-15": "0.000011", "Steel-EN-GJS-700-2": "0.000011"},
    "steel": {"Steel-Generic": "0.000012", "CalculiX-Steel": "0.000012"},
    "aluminium": {"AlMg3F24": "0.000023", "Aluminum-Generic": "0.0000231"},
}


@pytest.mark.parametrize("name", sorted(CARDS))
def test_expansion_agrees_with_the_material_cards_to_1e_6(name):
    for card in CARDS[name].values():
        assert abs(materials()[name] - Decimal(card)) < Decimal("1e-6")


def test_every_material_that_is_known_by_name_was_compared():
    assert set(materials()) == set(CARDS)


def test_expansion_of_aluminium_agrees_with_py_materials():
    """py-materials 3.10 (MIT): 2.31e-5 in 1/K, for pure aluminium."""
    published = Decimal(str(pymat.aluminum.properties.thermal.thermal_expansion))
    assert abs(materials()["aluminium"] - published) < Decimal("1e-6")


@pytest.mark.parametrize(
    ("ring", "bore", "rise", "bore_rise", "exact_thou"),
    [
        ("ductile iron", "grey iron", 200, 90, 1.716),
        ("ductile iron", "grey iron", 240, 90, -3.847),
        ("steel", "grey iron", 200, 90, -0.812),
        ("ductile iron", "aluminium", 200, 90, 16.529),
        ("ductile iron", "grey iron", 200, 0, -9.678),
    ],
)
def test_short_form_is_close_to_the_exact_one_and_on_the_safe_side(ring, bore, rise, bore_rise, exact_thou):
    """The exact form heats ring and bore as whole circles, by the textbook law L = L0 (1 + a dT)."""
    a_r, a_b = (float(materials()[name]) for name in (ring, bore))
    diameter, gap = 4030.0, 18.135
    exact = math.pi * diameter * (1 + a_b * bore_rise) - (math.pi * diameter - gap) * (1 + a_r * rise)
    assert exact == pytest.approx(exact_thou, abs=5e-4)
    hot = Hot(
        Material(ring, materials()[ring]),
        Material(bore, materials()[bore]),
        (Decimal(rise), Decimal(rise)),
        Decimal(bore_rise),
        length("1"),
    )
    left = float(hot_gap(length("18.135"), length("4.030", "in"), hot).least_mm) / 0.0254
    assert left < exact
    assert exact - left == pytest.approx(gap * a_r * rise, abs=1e-9)
    closed = math.pi * diameter * (a_r * rise - a_b * bore_rise)
    assert float(closure_mm(length("4.030", "in"), hot, Decimal(rise))) / 0.0254 == pytest.approx(closed)
