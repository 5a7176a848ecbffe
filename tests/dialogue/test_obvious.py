"""Which place needs no naming, since nobody would expect another."""

import pytest

from handsfree.dialogue.places import is_obvious
from handsfree.plan import parse_plan
from handsfree.plan.position import Position

pytestmark = pytest.mark.quick

PLAN = """
format = 1
name = "two rings"
[engine]
name = "invented"
[[check]]
name = "ring gaps"
rule = "file to gap"
unit = "thou"
order = "{order}"
[check.axes]
cylinder = 4
ring = ["top", "second"]
[[check.target]]
aim = "18 thou"
plus = "1.5 thou"
"""


def ring(cylinder, name):
    return Position.of({"cylinder": str(cylinder), "ring": name})


@pytest.mark.parametrize(
    ("order", "here", "then", "obvious"),
    [
        ("ring by ring", ring(1, "top"), ring(2, "top"), True),
        ("ring by ring", ring(1, "top"), ring(3, "top"), False),  # two is skipped: that is news
        ("ring by ring", ring(4, "top"), ring(1, "second"), False),  # the numbers begin anew
        ("cylinder by cylinder", ring(1, "top"), ring(1, "second"), True),
        ("cylinder by cylinder", ring(1, "second"), ring(2, "top"), True),
        ("cylinder by cylinder", ring(4, "second"), ring(1, "top"), False),
    ],
)
def test_next_place_is_obvious_when_it_follows_and_no_number_goes_back(order, here, then, obvious):
    check = parse_plan(PLAN.format(order=order), "the test's plan").checks[0]
    assert is_obvious(check, here, then) is obvious


def test_bare_reading_in_hand_is_answered_without_its_place_and_a_named_one_with_it(talk):
    assert talk.say("sixteen").reply.aloud == "Sixteen. File two."
    assert talk.say("cylinder one top sixteen").reply.aloud == "One top, sixteen. File two."
    assert talk.say("sixteen").reply.text == "One top, sixteen. File two."
