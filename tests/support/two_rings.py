"""A small plan of two checks, a clock that is set by hand, and drafts to log."""

from collections.abc import Callable
from datetime import UTC, datetime, timedelta, timezone
from itertools import count
from pathlib import Path

import pytest

from handsfree.journal import Draft, Event, Journal, Kind
from handsfree.length import length
from handsfree.plan import Plan, Position
from handsfree.planfile import parse_plan

PLAN_TEXT = """
format = 1
name = "Two rings"

[engine]
name = "Bench twin"
bore = "4.030 in"

[[check]]
name = "ring gaps"
rule = "file to gap"
unit = "thou"
order = "ring by ring"

[check.axes]
cylinder = 2
ring = ["top", "second"]

[[check.target]]
aim = "18 thou"
plus = "1.5 thou"

[[check]]
name = "washed"
rule = "tick"

[check.axes]
cylinder = 2
"""


class Clock:
    """Goes on by one second a look, from half past nine in the morning, two hours ahead of UTC."""

    def __init__(self) -> None:
        self.now = datetime(2026, 11, 25, 9, 30, tzinfo=timezone(timedelta(hours=2)))

    def __call__(self) -> datetime:
        self.now += timedelta(seconds=1)
        return self.now


@pytest.fixture
def clock() -> Clock:
    return Clock()


@pytest.fixture
def plan() -> Plan:
    return parse_plan(PLAN_TEXT)


@pytest.fixture
def journal(tmp_path: Path, clock: Clock):
    with Journal.open(tmp_path / "bench.journal", clock=clock) as opened:
        yield opened


@pytest.fixture
def abandon() -> Callable[[Journal], None]:
    """Leave a journal as a killed program does: its lock gone with it, and nothing closed."""

    def kill(journal: Journal) -> None:
        journal._hold.release()

    return kill


@pytest.fixture
def at() -> Callable[..., Position]:
    """Name a position of the ring gaps."""

    def name(cylinder: int, ring: str = "top") -> Position:
        return Position.of({"cylinder": str(cylinder), "ring": ring})

    return name


@pytest.fixture
def reading(at) -> Callable[..., Draft]:
    """Draft a reading in thou."""

    def draft(value: str, cylinder: int = 1, ring: str = "top", **more) -> Draft:
        return Draft(Kind.READING, "ring gaps", at(cylinder, ring), length(value), **more)

    return draft


@pytest.fixture
def happen() -> Callable[[Draft], Event]:
    """Number and date drafts as a journal would."""
    numbers = count(1)
    start = datetime(2026, 11, 25, 7, 30, tzinfo=UTC)

    def give(draft: Draft) -> Event:
        number = next(numbers)
        identity = f"01900000-0000-7000-8000-{number:012x}"
        return Event(identity, number, start + timedelta(seconds=number), 120, "0.1.0", draft)

    return give


@pytest.fixture(autouse=True)
def state_folder(tmp_path_factory, monkeypatch) -> Path:
    """Keep what couldn't be saved out of the real state folder."""
    folder = tmp_path_factory.mktemp("state")
    monkeypatch.setenv("XDG_STATE_HOME", str(folder))
    return folder
