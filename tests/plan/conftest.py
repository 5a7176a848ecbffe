"""A small plan that tests change one line of."""

import pytest

from handsfree.planfile import parse_plan

PLAN = """\
format = 1
name = "Test bench"

[engine]
name = "Test engine"
bore = "4.030 in"

[[check]]
name = "ring gaps"
rule = "file to gap"
unit = "thou"
order = "ring by ring"

[check.axes]
cylinder = 4
ring = ["top", "second"]

[[check.target]]
ring = "top"
aim = "18 thou"
plus = "1.5 thou"

[[check.target]]
ring = "second"
aim = "20 thou"
plus = "1.5 thou"
"""


@pytest.fixture
def plan_text():
    return PLAN


@pytest.fixture
def changed():
    """Parse the plan with one piece of text replaced, which must be there."""

    def change(*swaps):
        text = PLAN
        for old, new in swaps:
            assert old in text
            text = text.replace(old, new, 1)
        return parse_plan(text, "bench.toml")

    return change
