"""What was edited in a plan is told in words."""

import pytest

from handsfree.plan import differences
from handsfree.planfile import parse_plan
from tests.support.two_rings import PLAN_TEXT

pytestmark = pytest.mark.quick


@pytest.mark.parametrize(
    ("before", "after", "told"),
    [
        (
            'aim = "18 thou"',
            'aim = "20 thou"',
            [
                "the target of ring gaps, everywhere: 18 thou (from 18 thou to 19.5 thou), now 20 thou "
                "(from 20 thou to 21.5 thou)"
            ],
        ),
        ('"washed"', '"dried"', ['the check "washed" is no longer there', 'the check "dried" is new']),
        (
            'ring = ["top", "second"]',
            'ring = ["top"]',
            [
                "ring gaps, cylinder 1, ring second is no longer there",
                "ring gaps, cylinder 2, ring second is no longer there",
            ],
        ),
        ('"ring by ring"', '"cylinder by cylinder"', ["the order of ring gaps"]),
        ("Two rings", "Two of them", ["name: Two rings, now Two of them"]),
        (
            'rule = "tick"',
            'rule = "tick"  # dry',
            ['without the line "rule = "tick""', 'with the line "rule = "tick"  # dry"'],
        ),
        ('rule = "tick"', 'rule = "tick"\n', ['with the line ""']),
    ],
)
def test_each_edit_is_told(before, after, told):
    assert before in PLAN_TEXT
    assert differences(parse_plan(PLAN_TEXT), parse_plan(PLAN_TEXT.replace(before, after))) == told


def test_one_edited_target_names_its_place():
    one = '\n[[check.target]]\ncylinder = 2\nring = "top"\naim = "21 thou"\nplus = "1 thou"\n'
    edited = PLAN_TEXT.replace('plus = "1.5 thou"\n', f'plus = "1.5 thou"\n{one}')
    assert differences(parse_plan(PLAN_TEXT), parse_plan(edited)) == [
        "the target of ring gaps, cylinder 2, ring top: 18 thou (from 18 thou to 19.5 thou), now 21 thou "
        "(from 21 thou to 22 thou)"
    ]


def test_the_engines_figures_are_told_one_by_one():
    before, after = (parse_plan(PLAN_TEXT.replace("4.030", bore)) for bore in ("4.035", "4.045"))
    assert differences(before, after) == ["bore of the engine: 4.035 in, now 4.045 in"]


def test_the_same_plan_has_no_differences():
    assert differences(parse_plan(PLAN_TEXT), parse_plan(PLAN_TEXT)) == []
    (told,) = differences(parse_plan(PLAN_TEXT), parse_plan(PLAN_TEXT.rstrip("\n")))
    assert told == "only in white space"


def test_many_edits_are_told_in_few_lines():
    remarks = "".join(f"# remark {number}\n" for number in range(50))
    told = differences(parse_plan(PLAN_TEXT), parse_plan(PLAN_TEXT + remarks))
    assert len(told) == 7
    assert told[-1] == "44 lines more"
