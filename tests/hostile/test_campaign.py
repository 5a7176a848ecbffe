"""A part of each campaign of hostile input; `tests.hostile.campaign` runs them in full."""

from __future__ import annotations

import random
import subprocess
import sys
import tomllib
from contextlib import suppress

import pytest

from handsfree.planfile import parse_plan
from tests.hostile.child import Outcome
from tests.hostile.plans import odd_plan, right_plans
from tests.support.program import ROOT

SEED = 19


@pytest.mark.parametrize(("kind", "count"), [("plans", 60), ("sounds", 12), ("texts", 20), ("lines", 30)])
def test_hostile_input_gives_one_sentence(kind: str, count: int) -> None:
    done = subprocess.run(
        [sys.executable, "-m", "tests.hostile.campaign", f"--{kind}", str(count), "--seed", str(SEED)],
        cwd=ROOT,
        capture_output=True,
        text=True,
        timeout=500,
        check=False,
    )
    assert done.returncode == 0, done.stdout + done.stderr
    counted = [int(part.split()[0]) for part in done.stdout.partition(": ")[2].split(";")[0].split(", ")]
    assert sum(counted) == count


@pytest.mark.quick
def test_the_plans_that_are_mutated_are_right() -> None:
    assert all(parse_plan(text).checks for text in right_plans())


@pytest.mark.quick
def test_mutated_plans_reach_every_depth() -> None:
    """Some aren't text, some no TOML, some TOML but no plan, some plans all the same."""
    reached = {"bytes": 0, "text": 0, "toml": 0, "plan": 0}
    for number in range(150):
        data, depth = odd_plan(random.Random(number)), "bytes"
        with suppress(Exception):
            text, depth = data.decode(), "text"
            tomllib.loads(text)
            depth = "toml"
            parse_plan(text)
            depth = "plan"
        reached[depth] += 1
    assert min(reached.values()) >= 5, reached


def outcome(
    status: int = 2, out: str = "", err: str = "handsfree: no.\n", cpu_s: float = 1, mb: float = 90
) -> Outcome:
    return Outcome(status, out, err, cpu_s, cpu_s, mb)


@pytest.mark.quick
def test_the_judge_takes_what_is_right_and_nothing_else() -> None:
    assert outcome().complaint is None
    assert outcome(0, err="").complaint is None
    assert outcome(err="usage: handsfree\nhandsfree: error: no\n").complaint is None
    assert outcome(1).complaint == "status 1"
    assert outcome(-11).complaint == "status -11"
    assert outcome(err="").complaint == "no single sentence"
    assert outcome(err="handsfree: a\nhandsfree: b\n").complaint == "no single sentence"
    assert outcome(err="Traceback (most\nhandsfree: x\n").complaint == "a traceback or a warning"
    assert outcome(err="handsfree: \x1b[2J\n").complaint == "characters that move the cursor"
    assert outcome(cpu_s=5.1).complaint == "5.1 s"
    assert outcome(mb=501).complaint == "501 MB"
