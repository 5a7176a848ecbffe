"""Time for one reading in a large plan: 16 cylinders, 20 checks, about 1,000 positions.

    python -m tests.measure.large_plan             prints the table
    python -m tests.measure.large_plan --write     and writes tests/measure/large_plan.json

Each reading is timed alone: through the fold of one more event, its judging, what is next and what is
left; and by the whole bench, from the keys of its entry to its answer: keys to command, dialogue,
wording, and the journal on disk.
"""

from __future__ import annotations

import argparse
import json
import platform
import statistics
import tempfile
import time
from collections.abc import Callable
from datetime import UTC, datetime, timedelta
from decimal import Decimal
from pathlib import Path
from typing import Any

from handsfree.bench import Bench
from handsfree.journal import Draft, Event, Journal, Kind
from handsfree.judge import State, judge_direct, judge_joint, next_position, whats_left
from handsfree.length import Length
from handsfree.plan import Check, Plan, Position, Rule
from handsfree.planfile import parse_plan
from handsfree.session import Session, fold, opening, step
from handsfree.understand import Reading, pad_for
from tests.measure.results import keep

BUDGET_MS = 5.0
WORDS = ("a", "b", "c", "d", "e", "f", "g", "h", "i", "j")


def plan_text() -> str:
    """Write the plan: ten checks of gaps, five with limits, five differences."""
    parts = ['format = 1\nname = "large"\n[engine]\nname = "sixteen"\nbore = "4.030 in"\n']
    parts += [
        f'[[check]]\nname = "gaps {word}"\nrule = "file to gap"\norder = "ring by ring"\n[check.axes]\n'
        'cylinder = 16\nring = ["top", "second", "oil rail"]\n'
        '[[check.target]]\naim = "18 thou"\nplus = "1.5 thou"\n'
        for word in WORDS
    ]
    for word in WORDS[:5]:
        parts.append(
            f'[[check]]\nname = "limits {word}"\nrule = "limits"\n[check.axes]\ncylinder = 16\n'
            'valve = ["intake", "exhaust", "third", "fourth"]\n[[check.target]]\nlower = 6\nupper = 10\n'
        )
        parts.append(
            f'[[check]]\nname = "bearings {word}"\nrule = "difference"\n[check.axes]\nmain = 20\n'
            '[[check.part]]\nname = "bore"\nnominal = "2.1 in"\n'
            '[[check.part]]\nname = "journal"\nnominal = "2.1 in"\n'
            '[[check.target]]\nlower = "1 thou"\nupper = "3 thou"\n'
        )
    return "".join(parts)


def figure(check: Check, position: Position, number: int) -> Length:
    """Return some plausible reading, most of them good."""
    if check.rule is Rule.DIFFERENCE:
        size = "2.1020" if position.get("part") == "bore" else "2.1000"
        return Length(Decimal(size), check.unit_at(position))
    target = check.target(position)
    return Length(target.aim.value + Decimal(number % 3 - 1), target.aim.unit)


def event(draft: Draft, number: int) -> Event:
    """Number and date a draft as a journal would."""
    at = datetime(2026, 11, 25, 8, tzinfo=UTC) + timedelta(seconds=20 * number)
    return Event(f"{number:032x}", number, at, 0, "bench", draft)


def judged(session: Session, check: Check, position: Position, reading: Length) -> State:
    """Judge one reading as the session would, say what is next and what is left."""
    if check.rule is Rule.DIFFERENCE:
        item = check.item(position)
        held = {position: reading}
        for part in check.read_parts:
            place = check.at_part(item, part.name)
            entry = session.current(check.name, place)
            if entry is not None and entry.value is not None:
                held.setdefault(place, entry.value)
        joint = judge_joint(session.plan, check, item, held)
        state = joint.verdict.state if joint.verdict is not None else State.GOOD
    else:
        state = judge_direct(session.plan, check, position, reading).state
    states = {
        place: State(entry.event.draft.verdict or "good")
        for place, entry in session.results(check.name).items()
    }
    states[position] = state
    next_position(check, states, position)
    whats_left(check, states)
    return state


def timed(action: Callable[[], object]) -> float:
    """Return the milliseconds that an action takes."""
    began = time.perf_counter()
    action()
    return (time.perf_counter() - began) * 1000


def measure(plan: Plan) -> dict[str, list[float]]:
    """Read every position once, timing each."""
    events = [event(opening(plan), 1)]
    session = fold(plan, events)
    times: dict[str, list[float]] = {"judge, next and left": [], "fold one event": []}
    for check in plan.checks:
        session = step(session, event(Draft(Kind.CHECK, check=check.name), len(events) + 1))
        for position in check.positions:
            reading = figure(check, position, len(events))
            state: list[State] = []
            now = session
            times["judge, next and left"].append(
                timed(lambda: state.append(judged(now, check, position, reading)))  # noqa: B023
            )
            draft = Draft(
                Kind.READING, check=check.name, position=position, value=reading, verdict=state[0].value
            )
            events.append(event(draft, len(events) + 1))
            began = time.perf_counter()
            session = step(session, events[-1])
            times["fold one event"].append((time.perf_counter() - began) * 1000)
    times["fold all events anew"] = [timed(lambda: fold(plan, events))]
    return times


def measure_bench(plan: Plan, path: Path | None) -> list[float]:
    """Key every position once at a bench; its journal is kept at `path`, or in memory."""
    times: list[float] = []
    journal = Journal.in_memory() if path is None else Journal.open(path)
    with journal:
        bench = Bench(plan, journal)
        bench.open()
        for number, check in enumerate(plan.checks, start=1):
            bench.key(f".*{number}")
            for position in check.positions:
                keys = pad_for(plan, check, position).keys(
                    Reading(figure(check, position, len(times)), position)
                )
                assert keys is not None
                times.append(timed(lambda: bench.key(keys)))  # noqa: B023
        logged = sum(len(bench.session.results(check.name)) for check in plan.checks)
        assert logged == len(times)
    return times


def table(facts: dict[str, Any]) -> str:
    """Return the table of what was measured."""
    lines = [
        f"{facts['positions']:,} positions in {facts['checks']} checks, Python {facts['python']}; "
        f"the budget is {BUDGET_MS} ms a reading:",
        "",
        "| what | p50 | p95 | worst |",
        "| --- | --- | --- | --- |",
    ]
    for name, found in facts["times_ms"].items():
        cells = " | ".join(f"{found[each]:.2f} ms" for each in ("p50", "p95", "worst"))
        lines.append(f"| {name} | {cells} |")
    return "\n".join(lines) + "\n"


def main() -> None:
    """Measure, and say whether the budget holds."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--write", action="store_true")
    asked = parser.parse_args()
    text = plan_text()
    began = time.perf_counter()
    plan = parse_plan(text)
    parsed = (time.perf_counter() - began) * 1000
    positions = sum(len(check.positions) for check in plan.checks)
    times = measure(plan)
    with tempfile.TemporaryDirectory() as folder:
        times["keys to answer, journal on disk"] = measure_bench(plan, Path(folder) / "large.journal")
    times["keys to answer, journal in memory"] = measure_bench(plan, None)
    facts: dict[str, Any] = {
        "checks": len(plan.checks),
        "positions": positions,
        "read_plan_ms": round(parsed, 1),
        "python": platform.python_version(),
        "times_ms": {
            name: {
                "p50": round(statistics.median(found), 3),
                "p95": round(sorted(found)[int(0.95 * (len(found) - 1))], 3),
                "worst": round(max(found), 3),
            }
            for name, found in times.items()
        },
    }
    print(json.dumps(facts, indent=2))
    one = [sum(parts) for parts in zip(times["judge, next and left"], times["fold one event"], strict=True)]
    print(f"fold and judge one reading: p95 {sorted(one)[int(0.95 * len(one))]:.2f} ms of {BUDGET_MS} ms")
    whole = times["keys to answer, journal on disk"]
    print(f"keys to answer by the whole bench: p95 {sorted(whole)[int(0.95 * len(whole))]:.2f} ms")
    if asked.write:
        keep("large_plan", facts, table(facts), ears=False)


if __name__ == "__main__":
    main()
