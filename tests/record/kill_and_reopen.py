"""Kills a program at random instants while it logs, opens its journal again, and counts what is there.

Run: python tests/record/kill_and_reopen.py FOLDER KILLS SEED. Prints one JSON object.

A child forked from this process opens the journal and appends reading after reading; once `append`
has returned, it acknowledges the reading through a pipe. At a random instant (also while it opens,
or makes, the journal) it gets SIGKILL. Then every acknowledged reading must be there exactly once, the
chain must hold, and each kill may have left at most one reading that was written but not yet
acknowledged.
"""

import json
import os
import random
import signal
import sys
import time
from pathlib import Path

from handsfree.length import length
from handsfree.record import Draft, Journal, Kind
from handsfree.record.chain import head

A_JOURNAL_LASTS = 10  # kills, so that making one is hit too


def log_until_killed(path: Path, acknowledge: int, life: int) -> None:
    journal = Journal.open(path)
    number = 0
    while True:
        number += 1
        event = journal.append(
            Draft(Kind.READING, value=length(f"{life}.{number:06}"), note="x" * (number % 700))
        )
        os.write(acknowledge, f"{event.id}\n".encode())


def one_life(path: Path, life: int, lasts_s: float) -> list[str]:
    reading, writing = os.pipe()
    child = os.fork()
    if child == 0:
        os.close(reading)
        try:
            log_until_killed(path, writing, life)
        finally:
            os._exit(70)  # only a fault comes here
    os.close(writing)
    time.sleep(lasts_s)
    os.kill(child, signal.SIGKILL)
    with os.fdopen(reading, "rb") as pipe:
        acknowledged = pipe.read().decode().split()
    _, status = os.waitpid(child, 0)
    if not os.WIFSIGNALED(status):
        sys.exit(f"life {life} ended by itself with status {status}")
    return acknowledged


def main() -> None:
    folder, kills, seed = Path(sys.argv[1]), int(sys.argv[2]), int(sys.argv[3])
    dice = random.Random(seed)
    counts = {
        "kills": 0,
        "acknowledged": 0,
        "lost": 0,
        "doubled": 0,
        "unacknowledged": 0,
        "broken": 0,
        "empty": 0,
    }
    acknowledged: list[str] = []
    known = 0
    for life in range(kills):
        path = folder / f"{life // A_JOURNAL_LASTS}.journal"
        if life % A_JOURNAL_LASTS == 0:
            acknowledged, known = [], 0
        fresh = one_life(path, life, dice.choice((dice.uniform(0, 0.015), dice.uniform(0, 0.09))))
        acknowledged += fresh
        with Journal.open(path) as journal:
            events = journal.events()
            ids = [event.id for event in events]
            counts["lost"] += len(set(acknowledged) - set(ids))
            counts["doubled"] += len(ids) - len(set(ids))
            counts["broken"] += [event.seq for event in events] != list(range(1, len(ids) + 1))
            counts["broken"] += head(events) != journal.head
        surplus = len(ids) - known - len(fresh)
        counts["broken"] += not 0 <= surplus <= 1
        counts["unacknowledged"] += surplus
        counts["empty"] += not fresh
        counts["acknowledged"] += len(fresh)
        counts["kills"] += 1
        known = len(ids)
    print(json.dumps(counts))  # noqa: T201 - the answer


main()
