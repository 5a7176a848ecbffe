"""A bench to talk to."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import pytest

from handsfree.journal import Journal
from handsfree.plan import Plan, Position
from tests.dialogue.talk import Clock, Talk, plan_of_three_checks


@pytest.fixture(scope="session")
def plan() -> Plan:
    return plan_of_three_checks()


@pytest.fixture
def talk(plan: Plan) -> Talk:
    return Talk(plan, Journal.in_memory(clock=Clock()))


@pytest.fixture
def talk_in(plan: Plan, tmp_path: Path) -> Callable[[], Talk]:
    """Open the same journal file again and again, as after a stop."""
    path = tmp_path / "bench.journal"
    clock = Clock()
    return lambda: Talk(plan, Journal.open(path, clock=clock))


@pytest.fixture
def at() -> Callable[..., Position]:
    def name(cylinder: int, ring: str | None = None) -> Position:
        labels = {"cylinder": str(cylinder)} | ({"ring": ring} if ring else {})
        return Position.of(labels)

    return name


@pytest.fixture(autouse=True)
def state_folder(tmp_path_factory, monkeypatch) -> Path:
    """Keep what couldn't be saved out of the real state folder."""
    folder = tmp_path_factory.mktemp("state")
    monkeypatch.setenv("XDG_STATE_HOME", str(folder))
    return folder
