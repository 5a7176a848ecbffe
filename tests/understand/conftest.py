"""The demo plan's grammar, and contexts in which the same words mean different things."""

from __future__ import annotations

from pathlib import Path

import pytest

from handsfree.length import Unit, length
from handsfree.plan import Plan, Position
from handsfree.planfile import load_plan
from handsfree.understand import Automaton, Context, Listening, Meaning, listen_for, meanings

AXES = {"cylinder": tuple("12345678"), "ring": ("top", "second")}


@pytest.fixture(scope="session")
def demo_plan() -> Plan:
    return load_plan(Path(__file__).parents[2] / "demo" / "plan.toml")


@pytest.fixture(scope="session")
def demo(demo_plan) -> Listening:
    return listen_for(demo_plan, demo_plan.checks[0])


@pytest.fixture(scope="session")
def automaton(demo) -> Automaton:
    return demo.automaton


@pytest.fixture(scope="session")
def at():
    def name(cylinder: int | str | None = None, ring: str | None = None) -> Position:
        labels = {"cylinder": None if cylinder is None else str(cylinder), "ring": ring}
        return Position.of({axis: label for axis, label in labels.items() if label is not None})

    return name


@pytest.fixture(scope="session")
def take(automaton):
    """Give the meanings of words, in a unit and with a plausible window."""

    def meant(words: str, unit: str = "thou", window: tuple[str, str] | None = None) -> tuple[Meaning, ...]:
        ends = (length(window[0], unit), length(window[1], unit)) if window else None
        context = Context(Unit(unit), AXES, ("ring gaps", "rod bearings"), lambda _: ends)
        return meanings(words.split(), automaton, context)

    return meant
