"""Whatever is written in a plan, it is a plan or one sentence says why not."""

import re
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from handsfree.errors import PlanError
from handsfree.planfile import parse_plan
from handsfree.show import check_plan, show_plan

pytestmark = pytest.mark.quick

TEXT = (Path(__file__).parents[2] / "demo" / "build" / "plan.toml").read_text("utf-8")
LINES = TEXT.splitlines()
ASSIGNED = [n for n, line in enumerate(LINES) if re.match(r"\s*[\w.\"]+ *=", line)]
JUNK = st.sampled_from(
    [
        "0",
        "-1",
        "1",
        "3",
        "99",
        "1000000",
        "1e400",
        "inf",
        "nan",
        "0.5",
        "true",
        "[]",
        "[[]]",
        "[1, [2]]",
        "{}",
        "{ a = 1 }",
        '""',
        '" "',
        '"0"',
        '"-0"',
        '"18 thou"',
        '"0.35 mm"',
        '"5 in"',
        '"999999 mm"',
        '"-3 um"',
        '"top"',
        '"second"',
        '"cylinder"',
        '"limits"',
        '"shim"',
        '"tick"',
        '"difference"',
        '"file to gap"',
        '"housing - x"',
        '"part by part"',
        '["a", "b"]',
        '["1", 1]',
        '[0.1, "2 mm"]',
        '"\\u0000"',
        '"\u202e"',
        "2026-11-25",
        "0x10",
    ]
)


def check_outcome(text):
    """A plan that can be read is printed whole; any other gives one sentence with its file."""
    try:
        plan = parse_plan(text, "junk.toml")
    except PlanError as error:
        sentence = str(error)
    else:
        assert "Cautions" in show_plan(plan)
        assert check_plan(plan).endswith("\n")
        return
    assert sentence.isprintable()
    assert sentence.startswith(("junk.toml, ", "junk.toml: "))


@settings(deadline=None, max_examples=300)
@given(st.lists(st.tuples(st.sampled_from(ASSIGNED), JUNK), min_size=1, max_size=2))
def test_junk_for_a_value_never_gets_further_than_a_sentence(changes):
    lines = list(LINES)
    for number, junk in changes:
        lines[number] = lines[number].split("=", 1)[0] + "= " + junk
    check_outcome("\n".join(lines))


@settings(deadline=None, max_examples=150)
@given(st.sets(st.integers(0, len(LINES) - 1), min_size=1, max_size=4), st.booleans())
def test_lines_lost_or_doubled_never_get_further_than_a_sentence(numbers, double):
    lines = []
    for number, line in enumerate(LINES):
        lines += [line] * (2 if double else 0) if number in numbers else [line]
    check_outcome("\n".join(lines))
