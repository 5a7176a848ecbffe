"""Cost of keeping records: appending, folding, exporting, keeping sound, sharing.

    python -m tests.measure.records                prints the table; about a minute
    python -m tests.measure.records --write        and writes tests/measure/records.json and records.md

Appends go to the disk that holds --folder (the temporary folder without it), each forced to it. Sharing
needs PostgreSQL on this machine (Debian: postgresql); without it that line is left out.
"""

from __future__ import annotations

import argparse
import os
import platform
import random
import statistics
import tempfile
import time
from collections.abc import Callable
from datetime import UTC, datetime
from pathlib import Path

import numpy as np

from handsfree.export import to_csv, to_json, to_pdf, to_xlsx
from handsfree.journal import Draft, Event, Journal, Kind, Shop, Sounds, verify
from handsfree.length import length
from handsfree.plan import Plan, Position
from handsfree.session import fold, step
from tests.measure.results import keep
from tests.support import journals, postgres

SORTS = {Kind.READING: 50, Kind.CORRECTION: 8, Kind.VOID: 7, Kind.MOVE: 25, Kind.TURNS: 10}
"""Number of events of each kind in a hundred."""


def once(work: Callable[[], object]) -> float:
    """Return the seconds that a piece of work takes."""
    began = time.perf_counter()
    work()
    return time.perf_counter() - began


def best(work: Callable[[], object], times: int = 3) -> float:
    """Return the shortest of several runs, in seconds: the others waited for something else."""
    return min(once(work) for _ in range(times))


def disk(folder: Path, count: int) -> list[float]:
    """Return the milliseconds in which the disk alone takes 8 kB, forced to it."""
    spent = []
    with (folder / "disk").open("wb", buffering=0) as file:
        for _ in range(count):
            began = time.perf_counter()
            file.write(bytes(8192))
            os.fdatasync(file.fileno())
            spent.append((time.perf_counter() - began) * 1000)
    return sorted(spent)


def appends(folder: Path | None, plan: Plan, count: int) -> list[float]:
    """Return the milliseconds of each of `count` appends to a file in a folder, or to memory."""
    places = plan.checks[0].positions
    spent = []
    with Journal.in_memory() if folder is None else Journal.open(folder / "append.journal") as journal:
        for number in range(count):
            began = time.perf_counter()
            journals.measure(journal, plan, places[number % len(places)], "18.25")
            spent.append((time.perf_counter() - began) * 1000)
    return spent


def mixed(plan: Plan, count: int) -> list[Event]:
    """Return many events of all sorts: readings, corrections, voids, moves and turns."""
    dice = random.Random(7)
    places: tuple[Position, ...] = plan.checks[0].positions
    now = datetime.now(UTC)
    events: list[Event] = []
    ids: list[str] = []
    for number in range(count):
        kind = dice.choices(list(SORTS), list(SORTS.values()))[0]
        refers = dice.choice(ids[-5:]) if ids and kind in (Kind.CORRECTION, Kind.VOID) else None
        draft = Draft(
            kind,
            "ring gaps",
            dice.choice(places),
            length("18.25") if kind in (Kind.READING, Kind.CORRECTION) else None,
            refers_to=refers,
            data={"count": "5"} if kind is Kind.TURNS else {},
        )
        events.append(Event(str(number), number + 1, now, 0, "0.1.0", draft))
        if kind in (Kind.READING, Kind.CORRECTION):
            ids.append(str(number))
    return events


def sharing(folder: Path, plan: Plan, count: int) -> float | None:
    """Return the events a second at which a journal reaches a server on this machine."""
    if postgres.programs() is None:
        return None
    path = folder / "share.journal"
    with Journal.open(path) as journal:
        journal._connection.execute("PRAGMA synchronous = OFF")  # only its making is hurried
        journals.log_many(journal, plan, count - 1)
    server = postgres.Server()
    try:
        shop = Shop(server.address())
        spent = once(lambda: shop.share(path, station="bench"))
        shop.close()
    finally:
        server.close()
    return count / spent


def measure(folder: Path) -> list[tuple[str, str, str]]:
    """Return the name of each measurement, its figure, and its limit."""
    plan = journals.plan(16)
    alone = disk(folder, 1000)
    spent = sorted(appends(folder, plan, 5000))
    p99 = spent[round(len(spent) * 0.99)]
    lines = [
        ("8 kB forced to the disk, p50 and p99", f"{alone[500]:.2f} and {alone[990]:.2f} ms", ""),
        ("append, p50", f"{statistics.median(spent):.2f} ms", ""),
        ("append, p99 of 5,000", f"{p99:.2f} ms", "at most 5 ms"),
        ("append, longest", f"{spent[-1]:.1f} ms", ""),
        ("append to memory, p99", f"{sorted(appends(None, plan, 5000))[4950]:.2f} ms", ""),
    ]
    events = mixed(plan, 100_000)
    lines.append(("fold of 100,000 events", f"{best(lambda: fold(plan, events)):.2f} s", "at most 1 s"))
    session = fold(plan, events[:1000])
    lines.append(("one step after 1,000", f"{best(lambda: step(session, events[1000])) * 1e6:.0f} us", ""))
    with Journal.in_memory(clock=journals.clock()) as journal:
        logged = journals.log_many(journal, plan, 10_000)
    session = fold(plan, logged)
    for name, write in (
        ("CSV", lambda: to_csv(session)),
        ("JSON", lambda: to_json(session, logged)),
        ("XLSX", lambda: to_xlsx(session, logged)),
        ("PDF", lambda: to_pdf(session, logged)),
    ):
        lines.append((f"{name} of 10,000 readings", f"{best(write):.2f} s", "at most 2 s"))
    lines.append(("verify of 5,000 events", f"{best(lambda: verify(folder / 'append.journal')):.2f} s", ""))
    noise = (np.random.default_rng(1).normal(0, 800, 48_000)).astype(np.int16)
    sounds = Sounds(folder / "sounds")
    kept = [once(lambda n=n: sounds.save(np.roll(noise, n))) * 1000 for n in range(200)]
    lines.append(("keep the sound of 3 s, p50", f"{statistics.median(kept):.1f} ms", ""))
    rate = sharing(folder, plan, 20_000)
    if rate is not None:
        lines.append(("share to a server here", f"{rate:,.0f} events/s", "at least 5,000"))
    return lines


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--write", action="store_true")
    parser.add_argument("--folder", type=Path, help="on the disk to be measured")
    options = parser.parse_args()
    load = os.getloadavg()[0]  # what else the machine was doing: it should be next to nothing
    with tempfile.TemporaryDirectory(dir=options.folder) as folder:
        lines = measure(Path(folder))
    python = f"Python {platform.python_version()}"
    machine = (
        f"{os.cpu_count()} cores, {python}, {platform.system()} {platform.machine()}, load before {load:.1f}"
    )
    table = [f"Records, {machine}:", "", "| what | measured | must be |", "| --- | --- | --- |"]
    table += [f"| {what} | {figure} | {limit} |" for what, figure, limit in lines]
    print("\n".join(table))
    if options.write:
        held = {"machine": machine, "figures": {what: figure for what, figure, _ in lines}}
        keep("records", held, "\n".join(table), ears=False)


if __name__ == "__main__":
    main()
