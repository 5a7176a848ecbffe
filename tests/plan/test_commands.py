"""What plan show and plan check print."""

from pathlib import Path

import pytest

from handsfree.judge import Weight, findings
from handsfree.plan import cautions_for
from handsfree.plan.plan import cautions
from handsfree.planfile import load_plan, parse_plan
from handsfree.show import check_plan, show_plan
from handsfree.show.plan_page import plan_rows

pytestmark = pytest.mark.quick

DEMO = Path(__file__).parents[2] / "demo"


def test_show_prints_every_position_with_its_derivation(changed):
    text = show_plan(changed(('aim = "18 thou"', 'factor = "0.0045"')))
    assert "cylinder 4, ring second  20 thou    0.508 mm   20 thou to 21.5 thou    b" in text
    assert (
        "a: bore 4.030 in times 0.0045 is 18.135 thou, up to 18.5 thou; factor as written in the plan" in text
    )
    assert "bore: 4.030 in" in text
    assert "Wear eye protection" in text


@pytest.mark.parametrize("path", [DEMO / "plan.toml", DEMO / "build" / "plan.toml"])
def test_demo_plans_show_and_hold_no_contradiction(path):
    plan = load_plan(path)
    assert len(plan_rows(plan)) == sum(len(check.items) for check in plan.checks)
    shown = show_plan(plan)
    assert all(item.key in shown for check in plan.checks for item in check.items)
    assert all(finding.weight is Weight.NOTE for finding in findings(plan))


def test_many_derivations_run_on_past_z(changed):
    bores = "\n".join(f'bores."{n}" = "4.{n:03d} in"' for n in range(1, 41))
    plan = changed(
        ("cylinder = 4", "cylinder = 40"),
        ('bore = "4.030 in"', f'bore = "4.030 in"\n{bores}'),
        ('aim = "18 thou"', 'factor = "0.0045"'),
    )
    assert "\n  aa: bore of cylinder 27" in show_plan(plan)


def test_nothing_wrong_says_so(changed):
    assert check_plan(changed()) == "Nothing contradicts itself.\n"


LEAVES = "[feelers]\nleaves = [5, 10]\n"
GUARDED = 'acceptance = "guarded"\n[[instrument]]\nname = "leaves"\n'
HOT = (
    '[hot]\nring = "ductile iron"\nbore = "grey iron"\n'
    'ring_rise = [200, 240]\nbore_rise = 90\nmargin = "1 thou"\n'
)


@pytest.mark.parametrize(
    ("swaps", "weight", "says"),
    [
        (
            [("[[check]]", LEAVES + "[[check]]")],
            Weight.CONTRADICTION,
            "no stack of the leaves lies from 18 thou",
        ),
        (
            [('name = "Test bench"', 'name = "b"\nacceptance = "guarded"')],
            Weight.CONTRADICTION,
            "no instrument says",
        ),
        (
            [
                ('name = "Test bench"', 'name = "b"\n' + GUARDED + 'standard = "0.1 thou"'),
                ('unit = "thou"', 'unit = "thou"\ninstrument = "leaves"'),
            ],
            Weight.CONTRADICTION,
            "guarded acceptance takes 18.164 thou to 19.336 thou, so aim there",
        ),
        (
            [
                ('name = "Test bench"', 'name = "b"\n' + GUARDED + 'standard = "1 thou"'),
                ('unit = "thou"', 'unit = "thou"\ninstrument = "leaves"'),
            ],
            Weight.CONTRADICTION,
            "no reading could be accepted at 95%",
        ),
        (
            [
                ('name = "Test bench"', 'name = "b"\n[[instrument]]\nname = "leaves"\nstandard = "1 thou"'),
                ('unit = "thou"', 'unit = "thou"\ninstrument = "leaves"'),
            ],
            Weight.CAUTION,
            "are close for an instrument",
        ),
        (
            [('aim = "20 thou"', 'aim = "17 thou"'), ("bore =", 'second_ring = "wider"\nbore =')],
            Weight.CONTRADICTION,
            "is less than the top ring's 18 thou",
        ),
        (
            [("bore =", 'second_ring = "narrower"\nbore =')],
            Weight.CONTRADICTION,
            "is more than the top ring's",
        ),
        ([("[[check]]", HOT + "[[check]]")], Weight.CAUTION, "the ends may meet at the lower limit"),
        (
            [('aim = "18 thou"\n', ""), ("bore =", 'duty = "road"\nbore =')],
            Weight.NOTE,
            "ask the ring's maker",
        ),
    ],
)
def test_check_finds_what_contradicts_itself(changed, swaps, weight, says):
    found = findings(changed(*swaps))
    assert any(finding.weight is weight and says in finding.sentence for finding in found), found
    assert [finding.weight for finding in found] == sorted((f.weight for f in found), key=list(Weight).index)


PARTS = """\
format = 1
name = "t"
[engine]
name = "e"
[[check]]
name = "bearing"
rule = "difference"
[check.axes]
main = 2
[[check.part]]
name = "housing"
nominal = "2.1 in"
[[check.part]]
name = "journal"
nominal = "2.1 in"
[[check.target]]
lower = "1 thou"
upper = "3 thou"
"""


@pytest.mark.parametrize(
    ("old", "new", "says"),
    [
        (
            '"2.1 in"\n[[check.target]]',
            '"1.2 in"\n[[check.target]]',
            "the nominal sizes come to 900 thou, far from",
        ),
        (
            'lower = "1 thou"\nupper = "3 thou"',
            'lower = "1 in"\nupper = "3 in"',
            "more than any part measures",
        ),
    ],
)
def test_check_compares_nominal_sizes_with_the_difference(old, new, says):
    assert old in PARTS
    assert says in check_plan(parse_plan(PARTS.replace(old, new)))


def test_shims_too_far_apart_are_found():
    text = PARTS.replace('rule = "difference"', 'rule = "shim"').replace(
        "[[check.target]]", "[check.shims]\nleast = 80\nmost = 120\nstep = 4\n[[check.target]]"
    )
    assert "shims 4 thou apart can't set every lash" in check_plan(parse_plan(text))


def test_same_finding_about_many_positions_is_told_once(changed):
    found = findings(changed(("[[check]]", LEAVES + "[[check]]")))
    assert [finding.where for finding in found] == [
        "ring gaps, cylinder 1, ring top and 3 more",
        "ring gaps, cylinder 1, ring second and 3 more",
    ]


def test_cautions_stand_where_they_belong(changed):
    plan = changed()
    filing = [caution.name for caution in cautions_for(plan.checks[0])]
    assert "eyes and hands" in filing
    assert "rotating stone" in filing
    assert "count out" not in filing
    whole = cautions_for(plan)
    assert whole[0].name == "figures"
    assert all(caution.first.endswith(".") and caution.more.endswith(".") for caution in cautions())
    assert len({caution.name for caution in cautions()}) == len(cautions())
