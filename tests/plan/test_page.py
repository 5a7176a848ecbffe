"""docs/plans.md says what is so: its examples load, and it leaves out no key, rule, template or name."""

from __future__ import annotations

import re
import tomllib

import pytest

from handsfree.judge import Weight, findings
from handsfree.plan import Plan, Position, Rule, duties, materials
from handsfree.planfile import parse_plan, templates
from handsfree.planfile.tables import known_keys
from tests.support.program import ROOT

pytestmark = pytest.mark.quick

PAGE = (ROOT / "docs" / "plans.md").read_text("utf-8")
EXAMPLES = re.findall(r"^```toml\n(.*?)^```$", PAGE, re.MULTILINE | re.DOTALL)
CHECK = """
[[check]]
name = "ring gaps"
rule = "file to gap"
axes = { cylinder = 4 }
target = [{ aim = "18 thou", plus = "1.5 thou" }]
"""


def whole(example: str) -> Plan:
    """Read an example, with what it leaves out put around it."""
    keys = tomllib.loads(example)
    head = "" if "format" in keys else 'format = 1\nname = "page"\n'
    engine = "" if "engine" in keys else '\n[engine]\nname = "bench"\n'
    return parse_plan(head + example + engine + ("" if "check" in keys else CHECK), "docs/plans.md")


def with_check(name: str) -> Plan:
    """Return the first example that has a check of this name."""
    return next(plan for plan in map(whole, EXAMPLES) if name in {check.name for check in plan.checks})


def at(**labels: str) -> Position:
    return Position(tuple(labels.items()))


@pytest.mark.parametrize("number", range(len(EXAMPLES)))
def test_every_example_is_a_plan_without_contradictions(number: int) -> None:
    plan = whole(EXAMPLES[number])
    assert [found for found in findings(plan) if found.weight is Weight.CONTRADICTION] == []


def test_the_page_has_an_example_of_every_rule() -> None:
    assert {check.rule for plan in map(whole, EXAMPLES) for check in plan.checks} == set(Rule)


def test_the_page_names_every_key_rule_duty_material_and_template() -> None:
    prose = re.sub(r"^```.*?^```$", "", PAGE, flags=re.MULTILINE | re.DOTALL)
    named = {words.strip('"') for words in re.findall(r"`([^`]+)`", prose)}
    named |= {words.strip("[]").removeprefix("check.").partition(" =")[0] for words in named}
    keys = {key for table in known_keys().values() for key in table}
    assert keys - named == set()
    for words in (duties(), materials(), templates(), [rule.value for rule in Rule]):
        assert set(words) - named == set()


def test_every_key_is_in_some_example_or_told_as_a_way_to_write_another() -> None:
    written = "\n".join(EXAMPLES)
    keys = {key for table in known_keys().values() for key in table}
    used = re.compile(r"(?:^|[{,] *)([a-z_]+) =|^\[+(?:check\.)?([a-z]+)\]", re.MULTILINE)
    found = {key or table for key, table in used.findall(written)}
    assert keys - found == {"factor"}


def test_what_the_page_says_of_its_examples_holds() -> None:
    plan = whole(EXAMPLES[0])
    target = plan.checks[0].target(at(cylinder="1", ring="top"))
    assert (str(target.lower), str(target.upper)) == ("18 thou", "19.5 thou")
    gaps = with_check("cylinder bores").check("ring gaps")
    assert gaps.bores_from == "cylinder bores"
    mixed = next(p for p in map(whole, EXAMPLES) if any("rail" in a.labels for c in p.checks for a in c.axes))
    named = mixed.checks[0].targets
    assert str(named[at(cylinder="4", ring="top")].aim) == "0.40 mm"
    assert str(named[at(cylinder="3", ring="rail")].upper) == "0.55 mm"
    assert "the maker's figure 0.35 mm" in named[at(cylinder="1", ring="top")].derivation
    assert with_check("valve lash").check("valve lash").reuse
    middle = with_check("end float").check("end float").target(at(shaft="crank"))
    assert str(middle.aim) == "6.5 thou"
    bored = next(plan for plan in map(whole, EXAMPLES) if plan.engine.bores).check("ring gaps")
    assert (
        bored.target(at(cylinder="3", ring="top")).aim.mm > bored.target(at(cylinder="1", ring="top")).aim.mm
    )
