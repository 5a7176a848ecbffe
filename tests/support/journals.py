"""Invented sessions to log, export and share: made by script, from a seed, with a clock set by hand."""

from __future__ import annotations

import random
from collections.abc import Callable
from datetime import datetime, timedelta, timezone
from pathlib import Path

from handsfree.journal import Draft, Event, Heard, Journal, Kind, LeafSide
from handsfree.journal.event import Identities
from handsfree.judge.reading import judge_reading
from handsfree.length import length
from handsfree.plan import Plan, Position
from handsfree.planfile import parse_plan
from handsfree.session import opening

HOSTILE = (
    '=cmd|" /C calc"!A0 \u202eltr \u2067x\u2069 ../../etc/passwd #import "x": * $x$ @a <b>\r\n'
    "'; DROP TABLE event; --"
)

TWO_RINGS = """
format = 1
name = "{name}"

[engine]
name = "{engine}"
bore = "4.030 in"

[[check]]
name = "ring gaps"
rule = "file to gap"
unit = "thou"
order = "ring by ring"

[check.axes]
cylinder = {cylinders}
ring = ["top", "second"]

[[check.target]]
aim = "18 thou"
plus = "1.5 thou"

[[check]]
name = "washed"
rule = "tick"

[check.axes]
cylinder = {cylinders}
"""


def plan(cylinders: int = 4, name: str = "Ring gaps of a twin", engine: str = "Bench twin") -> Plan:
    """Two rings to a cylinder, from 18 to 19.5 thou, and a tick for each cylinder that was washed."""
    return parse_plan(TWO_RINGS.format(cylinders=cylinders, name=name, engine=engine))


def clock(seed: int = 1, began: datetime | None = None) -> Callable[[], datetime]:
    """Return a clock that goes on by 5 to 40 seconds at every look, one hour ahead of UTC."""
    dice = random.Random(seed)
    now = began or datetime(2026, 11, 25, 8, 0, tzinfo=timezone(timedelta(hours=1)))

    def look() -> datetime:
        nonlocal now
        now += timedelta(seconds=dice.randrange(5, 40))
        return now

    return look


def identities(seed: int = 1) -> Identities:
    """Return ids that are the same for the same seed."""
    return Identities(bits=random.Random(seed).getrandbits)


def measure(journal: Journal, plan: Plan, position: Position, value: str, **more) -> Event:
    """Log a reading of the ring gaps with its verdict, as the bench does."""
    verdict = judge_reading(plan.checks[0].target(position), length(value))
    kind = more.pop("kind", Kind.READING)
    heard = more.pop(
        "heard", Heard("voice", f"{position.key} {value}", "phrase/tiny-en", -0.125, 7.25, "eighty")
    )
    return journal.append(
        Draft(
            kind,
            "ring gaps",
            position,
            length(value),
            verdict=verdict.state.value,
            remaining=verdict.remaining,
            heard=heard,
            **more,
        )
    )


def log_story(journal: Journal, plan: Plan) -> list[Event]:
    """Log a session with everything in it: filing, a correction, a void, bounds, turns, ticks, a question."""
    gaps = plan.checks[0].positions
    journal.append(opening(plan, who="J. Marten", instrument="feeler set 2"))
    for position in gaps[:-2]:
        measure(journal, plan, position, "14.50")
        journal.append(Draft(Kind.TURNS, "ring gaps", position, data={"count": "12.5"}))
        measure(journal, plan, position, "18.25")
    wrong = measure(journal, plan, gaps[0], "80")
    measure(journal, plan, gaps[0], "18", kind=Kind.CORRECTION, refers_to=wrong.id, note=HOSTILE)
    over = measure(journal, plan, gaps[1], "21.5", heard=Heard("keypad", "21.5"))
    journal.append(Draft(Kind.VOID, refers_to=over.id, note="burr"))
    measure(journal, plan, gaps[2], "21", heard=Heard("voice", HOSTILE))
    journal.append(
        Draft(
            Kind.READING,
            "ring gaps",
            gaps[-2],
            length("17"),
            bound=LeafSide.UNDER,
            feel="no go",
            verdict="short",
        )
    )
    journal.append(
        Draft(
            Kind.READING, "ring gaps", gaps[-1], length("19.5"), LeafSide.OVER, length("20"), verdict="open"
        )
    )
    journal.append(Draft(Kind.ASKED, data={"candidates": ["18", "80"]}))
    journal.append(Draft(Kind.STAND_BY))
    journal.append(Draft(Kind.GO_AHEAD))
    journal.append(Draft(Kind.CHECK, check="washed"))
    for position in plan.checks[1].positions:
        journal.append(Draft(Kind.TICK, "washed", position, data={"done": True}))
    journal.append(Draft(Kind.FINISHED))
    return journal.events()


def log_many(journal: Journal, plan: Plan, count: int, seed: int = 1, who: str = "J. Marten") -> list[Event]:
    """Log an opening and `count` readings that go round all positions."""
    dice = random.Random(seed)
    journal.append(opening(plan, who=who, instrument="feeler set 2"))
    gaps = plan.checks[0].positions
    for number in range(count):
        measure(journal, plan, gaps[number % len(gaps)], f"{dice.uniform(15, 20):.2f}")
    return journal.events()


def story_at(path: Path, *, seed: int = 1, **options) -> list[Event]:
    """Make a journal with that story in a file; the same bytes of every export for the same seed."""
    with Journal.open(path, clock=clock(seed), identities=identities(seed)) as journal:
        return log_story(journal, plan(**options))
