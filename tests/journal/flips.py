"""Flips bits in a journal, its write-ahead log and what is kept unsaved, and counts what is found.

Run: python tests/journal/flips.py FOLDER CASES SEED. Prints one JSON object.

Each case is a journal as a killed program leaves it: some readings in the database, some only in the
log, some unsaved. One bit of one file is flipped, or the log is cut short or removed. Then
`verify` must find it, unless every reading is still read as it was logged; opening it for
writing must not take in an altered reading nor lose one without a word, and must change nothing in a
journal that it refuses.
"""

import json
import os
import random
import shutil
import sqlite3
import sys
from pathlib import Path

from handsfree.errors import JournalError
from handsfree.journal import Draft, Event, Journal, Kind, open_to_go_on, verify
from handsfree.length import length

FILES = ("j", "j-wal", "j.unsaved")
CUTS = ("remove", "cut")
READINGS = 12


def make(folder: Path) -> list[Event]:
    """Make the journal that every case begins with: as a killed program leaves it."""
    live = folder / "live"
    live.mkdir()
    journal = Journal.open(live / "j")
    events = []

    def log(count: int) -> None:
        for _ in range(count):
            number = len(events) + 1
            events.append(journal.append(Draft(Kind.READING, value=length(f"{number}.25"), note="n" * 300)))

    events.append(journal.append(Draft(Kind.OPENED, data={"plan": "none"})))
    log(READINGS)
    other = sqlite3.connect(live / "j", isolation_level=None)
    other.execute("PRAGMA wal_checkpoint(PASSIVE)")
    log(READINGS)
    other.execute("BEGIN IMMEDIATE")  # a lock: what comes now is unsaved
    log(READINGS)
    other.execute("ROLLBACK")
    (folder / "as-left").mkdir()
    for file in live.iterdir():
        if file.name != "j.lock" and not file.name.endswith("-shm"):
            shutil.copy(file, folder / "as-left" / file.name)
    other.close()
    journal.close()
    return events


def damage(folder: Path, dice: random.Random) -> tuple[str, str]:
    """Damage one file; give its name and what was done."""
    name = dice.choice(FILES)
    path = folder / name
    held = bytearray(path.read_bytes())
    if name == "j-wal" and dice.random() < 0.1:
        what = dice.choice(CUTS)
        if what == "remove":
            path.unlink()
        else:
            os.truncate(path, dice.randrange(len(held)))
        return name, what
    bit = dice.randrange(len(held) * 8)
    held[bit // 8] ^= 1 << bit % 8
    path.write_bytes(held)
    return name, f"bit {bit}"


def told(events: list[Event]) -> list[tuple[str, str]]:
    """What must come back: each reading and its size, in order."""
    return [(event.kind.value, str(event.draft.value)) for event in events]


def read(path: Path) -> list[tuple[str, str]] | None:
    try:
        with Journal.open(path, read_only=True) as journal:
            return told(journal.events())
    except JournalError:
        return None


def one(folder: Path, events: list[Event], counts: dict[str, int]) -> str | None:
    """Look at one damaged journal; give what is wrong with how it was taken, None where nothing is."""
    wanted = told(events)
    intact = read(folder / "j") == wanted
    try:
        found = not verify(folder / "j").holds
    except JournalError:
        found = True
    counts["harmless"] += intact and not found
    counts["found"] += found
    if not intact and not found:
        return "not found"
    before = {file.name: file.read_bytes() for file in folder.iterdir() if not file.name.endswith("-shm")}
    try:
        opened = open_to_go_on(folder / "j")
    except JournalError:
        counts["refused"] += 1
        return None
    with opened.journal as journal:
        after = told(journal.events())
    counts["instead"] += opened.instead
    if not set(after) <= set(wanted) or after != [one for one in wanted if one in set(after)]:
        return "altered, doubled or reordered"
    if after != wanted and not opened.reports:
        return "lost without a word"
    aside = {file.read_bytes() for file in folder.iterdir()}
    if opened.instead and any(
        (folder / name).read_bytes() != held or held not in aside for name, held in before.items()
    ):
        return "changed though refused"
    counts["readings lost"] += len(wanted) - len(after)
    return None


def main() -> None:
    folder, cases, seed = Path(sys.argv[1]), int(sys.argv[2]), int(sys.argv[3])
    os.environ["XDG_STATE_HOME"] = str(folder / "state")
    dice = random.Random(seed)
    events = make(folder)
    counts = dict.fromkeys(("cases", "found", "harmless", "instead", "refused", "readings lost"), 0)
    wrong = []
    for case in range(cases):
        here = folder / f"case-{case}"
        shutil.copytree(folder / "as-left", here)
        done = damage(here, dice)
        fault = one(here, events, counts)
        counts["cases"] += 1
        if fault is not None:
            wrong.append([case, *done, fault])
        shutil.rmtree(here)
    print(json.dumps({**counts, "wrong": wrong}))  # noqa: T201 - the answer


main()
