"""What a session asks beyond the verdict, with a plan's own figures."""

from decimal import Decimal

import pytest

from handsfree.judge import (
    Bounds,
    FiledPass,
    bore_here,
    bores_for,
    doubt,
    heat_caution,
    next_leaf,
    next_pass,
    passes_like,
    share_out,
)
from handsfree.judge.filing import PassBasis
from handsfree.length import length
from handsfree.plan import Position, measured_target
from handsfree.planfile import parse_plan

pytestmark = pytest.mark.quick

PLAN = """\
format = 1
name = "t"
[engine]
name = "e"
bore = "4.0300 in"
bores."2" = "4.0294 in"
[[instrument]]
name = "leaves"
standard = "0.2 thou"
[feelers]
leaves = [1.5, 2, 3, 4, 8, 10, 15]
[filing]
risk = "10 %"
[hot]
ring = "ductile iron"
bore = "grey iron"
ring_rise = [180, 210]
bore_rise = 90
margin = "1 thou"

[[check]]
name = "bores"
rule = "limits"
unit = "in"
[check.axes]
cylinder = 3
depth = ["upper", "lower"]
[[check.target]]
lower = "4.029 in"
upper = "4.035 in"

[[check]]
name = "ring gaps"
rule = "file to gap"
instrument = "leaves"
bores_from = "bores"
gap_at = "upper"
[check.axes]
cylinder = 3
ring = ["top", "second"]
[[check.target]]
aim = "18 thou"
plus = "1.5 thou"

[[check]]
name = "end float"
rule = "limits"
[check.axes]
shaft = ["crank"]
[[check.target]]
lower = 2
upper = 8
"""
BENCH = parse_plan(PLAN)
GAPS = BENCH.check("ring gaps")
FLOAT = BENCH.check("end float")


def at(cylinder, ring="top"):
    return Position.of({"cylinder": str(cylinder), "ring": ring})


def filed(position, began, turns, before, after):
    return FiledPass(position, began, began + 2, Decimal(turns), length(before), length(after))


LOG = [
    filed(at(1), 1, 10, "10", "11.5"),
    filed(at(1, "second"), 4, 10, "10", "15"),
    filed(at(1), 3, 10, "11.5", "13.1"),
    filed(at(2), 8, 8, "12", "13.2"),
]


def test_rings_of_one_kind_teach_about_each_other_in_the_order_of_the_log():
    learned = passes_like(at(3), LOG)
    assert [float(one.removed_mm / length("1").mm) for one in learned] == pytest.approx([1.5, 1.6, 1.2])
    assert len(passes_like(at(3, "second"), LOG)) == 1


def test_dressed_wheel_is_learned_anew():
    assert len(passes_like(at(3), LOG, dressed=[2])) == 2
    assert len(passes_like(at(3), LOG, dressed=[2, 6])) == 1
    assert passes_like(at(3), LOG, dressed=[20]) == []


def test_next_pass_takes_the_plan_s_risk_and_unit():
    advice = next_pass(BENCH, GAPS, at(3), length("15.5"), passes_like(at(3), LOG))
    assert advice.basis in (PassBasis.LEARNED, PassBasis.LAST)
    assert advice.risk == 0.1
    assert advice.to_go == length("2.5")
    assert 0 < advice.turns <= advice.about
    assert next_pass(BENCH, GAPS, at(3), length("18"), []) is None
    assert next_pass(BENCH, FLOAT, FLOAT.positions[0], length("1"), []) is None


def test_next_pass_goes_to_the_target_of_the_measured_bore():
    bores = {Position.of({"cylinder": "3", "depth": d}): length(v, "in")
             for d, v in (("upper", "4.0320"), ("lower", "4.0300"))}  # fmt: skip
    target = measured_target(BENCH, GAPS, at(3), bores)
    assert target.aim == length("24.5")  # pi times two thou more, up to the half thou
    assert next_pass(BENCH, GAPS, at(3), length("18"), [], target).to_go == length("6.5")


def test_bore_is_as_measured_where_gaps_are_taken_and_else_as_planned():
    bores = {Position.of({"cylinder": "3", "depth": d}): length(v, "in")
             for d, v in (("upper", "4.0320"), ("lower", "4.0300"))}  # fmt: skip
    assert bore_here(BENCH, GAPS, at(3), bores) == length("4.032", "in")
    assert bore_here(BENCH, GAPS, at(2), bores) == length("4.0294", "in")
    assert bore_here(BENCH, GAPS, at(1)) == length("4.0300", "in")


def test_ring_that_went_over_is_offered_the_open_bores_of_its_kind():
    everything = set(GAPS.positions)
    places = bores_for(BENCH, GAPS, at(1), length("20"), everything)
    assert [place.bore for place in places] == ["2"]  # 20 - pi * 0.6 = 18.1; bore 3 is as large as 1
    assert bores_for(BENCH, GAPS, at(1), length("20"), everything - {at(2)}) == ()
    assert bores_for(BENCH, GAPS, at(1), length("30"), everything) == ()


def test_rings_tried_in_one_bore_are_shared_out_before_filing():
    gaps = {"a": length("14"), "b": length("19.6"), "c": length("16")}
    fitting = share_out(BENCH, GAPS, at(1), gaps, length("4.0300", "in"))
    assert {place.ring: place.bore for place in fitting.places}["b"] == "2"
    assert fitting.spare == ()


@pytest.mark.parametrize(("gap", "cautioned"), [("18", True), ("19.5", False), ("16", True)])
def test_heat_is_cautioned_where_less_than_the_margin_may_be_left(gap, cautioned):
    # at 210 K the gap closes by 17.85 thou
    left = heat_caution(BENCH, GAPS, at(1), length(gap))
    assert (left is not None) is cautioned


def test_heat_says_nothing_where_the_plan_assumes_nothing():
    cold = parse_plan(PLAN.replace(PLAN[PLAN.index("[hot]") : PLAN.index("[[check]]")], "", 1))
    assert heat_caution(cold, cold.check("ring gaps"), at(1), length("5")) is None
    assert heat_caution(BENCH, FLOAT, FLOAT.positions[0], length("0")) is None


def test_next_leaf_is_of_the_drawer_in_the_plan():
    assert [str(leaf) for leaf in next_leaf(BENCH, GAPS, at(1), Bounds()).leaves] == ["10 thou", "8 thou"]
    assert next_leaf(BENCH, FLOAT, FLOAT.positions[0], Bounds()) is None


@pytest.mark.parametrize(
    ("check", "position", "readings", "doubted"),
    [
        (GAPS, at(1), ["16", "18"], False),
        (GAPS, at(1), ["16", "15"], True),
        (GAPS, at(1), ["16"], False),
        (FLOAT, FLOAT.positions[0], ["4", "4.5"], False),
        (FLOAT, FLOAT.positions[0], ["4", "5"], True),
    ],
)
def test_reading_that_does_not_go_with_those_before_is_doubted(check, position, readings, doubted):
    assert (doubt(check, position, [length(value) for value in readings]) is not None) is doubted
