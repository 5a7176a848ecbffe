"""Kills a program at random instants while it logs, opens its journal again, and counts what is there.

Run: python tests/journal/kill_and_reopen.py FOLDER KILLS SEED [TROUBLE ...]. Prints one JSON object.

A child forked from this process opens the journal and appends reading after reading; once `append`
has returned, it acknowledges the reading through a pipe. At a random instant (also while it opens,
or makes, the journal) it gets SIGKILL. Then every acknowledged reading must be there exactly once, in the
order in which they were acknowledged, the journal must verify, and each kill may have left at most one
reading that was written but not yet acknowledged.

TROUBLE is what comes on top, one for each life in turn; without any it is "none":

- two: a second program wants to write the same journal all the while; it must be refused or must take
  its turn, and what it is acknowledged counts, too.
- lock: another program locks the database now and then, so that readings are kept unsaved.
- full: the disk fills up: a small one is mounted for it as root on Linux and all but some of it filled;
  elsewhere no file may grow beyond some size (RLIMIT_FSIZE), which is less than the real thing. What
  can't be written is kept in the state folder, on another disk. What `trouble` says is only in memory
  is told to the person as not saved, so it isn't counted as acknowledged.
"""

import json
import os
import random
import signal
import sqlite3
import subprocess
import sys
import time
from contextlib import suppress
from pathlib import Path

from handsfree.errors import JournalError
from handsfree.journal import Draft, Journal, Kind, verify
from handsfree.length import length

SMALL_DISK = 4_000_000
A_JOURNAL_LASTS = 10  # kills, so that making one is hit too


def log_until_killed(path: Path, acknowledge: int, life: str, patient: bool) -> None:
    while True:
        try:
            journal = Journal.open(path)
            break
        except JournalError as fault:
            if "is being written by" not in str(fault) and not patient:
                raise
            time.sleep(0.001)
    number = 0
    while True:
        number += 1
        event = journal.append(
            Draft(Kind.READING, value=length(f"1.{number:06}"), note=life + "x" * (number % 700))
        )
        if journal.trouble is None or "only in memory" not in journal.trouble:
            os.write(acknowledge, f"{event.id}\n".encode())


def child(path: Path, life: str, dice: random.Random, trouble: str = "none") -> tuple[int, int]:
    """Start a program that logs; give its process and the end of its pipe."""
    limit, patient = None, trouble in ("lock", "full")  # these may keep it from being opened for a while
    if trouble == "full" and not path.parent.is_mount() and path.exists():
        limit = path.stat().st_size + dice.randrange(200_000)
    reading, writing = os.pipe()
    process = os.fork()
    if process == 0:
        os.close(reading)
        try:
            if limit is not None:
                import resource

                signal.signal(signal.SIGXFSZ, signal.SIG_IGN)
                resource.setrlimit(resource.RLIMIT_FSIZE, (limit, limit))
            log_until_killed(path, writing, life, patient)
        except BaseException as fault:  # it must never come back into the caller
            os.write(2, f"{fault!r}\n".encode())
        finally:
            os._exit(70)  # only a fault comes here
    os.close(writing)
    return process, reading


def hold_now_and_then(path: Path, until: float, dice: random.Random) -> None:
    """Lock the database and let it go, again and again, as another program may."""
    while time.monotonic() < until:
        with suppress(sqlite3.Error):
            other = sqlite3.connect(f"{path.as_uri()}?mode=rw", uri=True, isolation_level=None, timeout=0)
            try:
                other.execute("BEGIN IMMEDIATE")
                time.sleep(max(0.0, min(dice.uniform(0, 0.4), until - time.monotonic())))
            finally:
                other.close()
        time.sleep(dice.uniform(0, 0.02))


def one_life(path: Path, life: int, trouble: str, dice: random.Random, opening_s: float) -> list[list[str]]:
    """Let a program, or two, log for a moment and kill them; give what each acknowledged."""
    lasts_s = dice.choice((dice.uniform(0, 1), dice.uniform(1, 8))) * opening_s
    if trouble == "lock":
        lasts_s *= 4  # each try waits for the lock a while
    ballast = path.with_name("ballast")
    if trouble == "full" and path.parent.is_mount():
        _fill(ballast, dice.randrange(200_000))
    names = ("a", "b") if trouble == "two" else ("a",)
    programs = [child(path, f"{life}{name}", dice, trouble) for name in names]
    until = time.monotonic() + lasts_s
    if trouble == "lock":
        hold_now_and_then(path, until, dice)
    acknowledged = []
    for process, reading in programs:
        time.sleep(max(0.0, until - time.monotonic()))
        os.kill(process, signal.SIGKILL)
        with os.fdopen(reading, "rb") as pipe:
            acknowledged.append(pipe.read().decode().split())
        _, status = os.waitpid(process, 0)
        if not os.WIFSIGNALED(status):
            sys.exit(f"life {life} ({trouble}) ended by itself with status {status}")
        until = time.monotonic() + lasts_s  # the second one has the journal to itself for a while
    ballast.unlink(missing_ok=True)
    return acknowledged


def _fill(ballast: Path, left: int) -> None:
    """Fill the disk but for some of it."""
    with suppress(OSError), ballast.open("wb", buffering=0) as file:
        while True:
            file.write(bytes(4096))
    os.truncate(ballast, max(0, ballast.stat().st_size - left))


def small_disk(folder: Path) -> bool:
    """Mount a small disk, where that can be."""
    folder.mkdir()
    if sys.platform != "linux" or os.geteuid() != 0:
        return False
    mount = ["mount", "-t", "tmpfs", "-o", f"size={SMALL_DISK}", "tmpfs", str(folder)]
    return subprocess.run(mount, check=False, capture_output=True).returncode == 0


def how_long(path: Path) -> float:
    """Return the seconds that starting a program, opening a journal and logging one reading take now."""
    began = time.monotonic()
    process, reading = child(path, "", random.Random(0))
    os.read(reading, 1)
    lasted = time.monotonic() - began
    os.kill(process, signal.SIGKILL)
    os.waitpid(process, 0)
    os.close(reading)
    for one in path.parent.glob(path.name + "*"):
        one.unlink()
    return lasted


def in_order(some: list[str], everything: list[str]) -> bool:
    """Whether one list is in another, in the same order."""
    rest = iter(everything)
    return all(one in rest for one in some)


def main() -> None:
    folder, kills, seed = Path(sys.argv[1]), int(sys.argv[2]), int(sys.argv[3])
    troubles = sys.argv[4:] or ["none"]
    os.environ["XDG_STATE_HOME"] = str(folder / "state")
    disk = folder / "disk"
    mounted = "full" in troubles and small_disk(disk)
    try:
        counts = all_lives(disk if mounted else folder, kills, troubles, random.Random(seed))
    finally:
        if mounted:
            subprocess.run(["umount", str(disk)], check=True)
    print(json.dumps({**counts, "small_disk": mounted}))  # noqa: T201 - the answer


def all_lives(folder: Path, kills: int, troubles: list[str], dice: random.Random) -> dict[str, int]:
    """Let one program after another log and be killed, and count what became of its readings."""
    counts = dict.fromkeys(
        (
            *("kills", "acknowledged", "unsaved", "lost", "doubled", "reordered"),
            *("unacknowledged", "broken", "empty", "second_wrote"),
        ),
        0,
    )
    acknowledged: list[list[str]] = []
    known = 0
    opening_s = how_long(folder / "beside")
    for life in range(kills):
        path = folder / f"{life // A_JOURNAL_LASTS}.journal"
        if life % A_JOURNAL_LASTS == 0:
            acknowledged, known = [], 0
            for old in folder.glob("*.journal*") if folder.is_mount() else ():
                old.unlink()
        trouble = troubles[life % len(troubles)]
        opening_s = 0.7 * opening_s + 0.3 * how_long(folder / "beside")  # the machine may be busy
        fresh = one_life(path, life, trouble, dice, opening_s)
        acknowledged += fresh
        unmade = not path.exists() or path.with_name(f"{path.name}-journal").exists()
        if not unmade and path.stat().st_size:  # as it was left, before anything is taken in
            counts["broken"] += bool(verify(path).faults)
            with suppress(JournalError), Journal.open(path, read_only=True) as journal:
                counts["unsaved"] += journal.unsaved
        with Journal.open(path) as journal:
            ids = [event.id for event in journal.events()]
            counts["broken"] += [event.seq for event in journal.events()] != list(range(1, len(ids) + 1))
            counts["broken"] += bool(journal.reports)
        counts["broken"] += bool(verify(path).faults)
        told = [one for each in acknowledged for one in each]
        counts["lost"] += len(set(told) - set(ids))
        counts["doubled"] += len(ids) - len(set(ids))
        counts["reordered"] += not in_order([one for one in told if one in set(ids)], ids)
        surplus = len(ids) - known - sum(len(each) for each in fresh)
        # what is only in memory may still be written, with what comes after it
        counts["broken"] += surplus < 0 or (trouble != "full" and surplus > len(fresh))
        counts["unacknowledged"] += surplus
        counts["empty"] += not any(fresh)
        counts["second_wrote"] += len(fresh) > 1 and bool(fresh[1])
        counts["acknowledged"] += sum(len(each) for each in fresh)
        counts["kills"] += len(fresh)
        known = len(ids)
    return counts


main()
