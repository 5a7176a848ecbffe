"""Journals in which one thing was altered to do harm, and what the commands make of them.

As a script it runs a campaign: ``python -m tests.journal.hostile_rows 500`` alters so many journals (with
``500 1000`` by the seeds from 1,000 on) and runs every command that reads one over each. It prints what
took long or much memory, or ended in any way but with a status and a sentence.
"""

from __future__ import annotations

import contextlib
import io
import json
import os
import random
import resource
import signal
import sqlite3
import sys
import tempfile
import time
import traceback
from collections.abc import Callable
from pathlib import Path

from handsfree.cli import main
from handsfree.journal import COLUMNS
from tests.support import journals

MOST_S, MOST_MB = 5.0, 500.0
ALL = (*COLUMNS, "previous", "hash")

ODD = (
    None, "", " ", 0, 1, -1, 2**31, 2**53, 2**63 - 1, -(2**63), 0.5, -0.0, 1e308, float("inf"), -1e-320,
    b"", b"\xff\x00blob", "\0", "\ud7ff", "abc", "nan", "sNaN", "Infinity", "-1", "1e999999999",
    "1e-999999999",    "0e-999999999", "9" * 5_000, "0." + "0" * 5_000 + "1", "1_8", "\uff11\uff18", "18.50", "None", "True",  # noqa: E501
    "[" * 100_000, "[" * 100_000 + "]" * 100_000, "[" * 500 + "]" * 500, "{}", "[]", "null", "true", "12",
    '{"count": "1e999999999"}', '{"count": "nan"}', '{"count": [1]}', '{"count": ' + "9" * 5_000 + "}",
    '{"done": "perhaps"}', '{"plan": 5}', '{"plan": "format = 1"}', '{"candidates": [{"kind": "x"}, 5]}',
    '{"a":' * 100_000, '{"a": NaN}', '{"a": 1e999}', '[["cylinder"]]', '[["cylinder", 5]]', '[["a","b","c"]]',
    '[["ring","top"],["cylinder","1"]]', '[["cylinder","99"],["ring","oil"]]', '[["",""]]', '["ab","cd"]',
    '[["cylinder","1"],["cylinder","2"]]', '{"cylinder":"1"}', json.dumps([["a", "b"]] * 10_000),
    "x" * 1_000_000, "\u202e\x1b[2J", "2026-11-25T09:30:00Z", "2026-11-25", "0001-01-01T00:00:00+23:59",
    "9999-12-31T23:59:59Z", "9999-12-31T23:59:59-23:59", "reading", "correction", "void", "tick", "turns",
    "asked", "opened", "ring gaps", "washed", "no such check", "thou", "mm", "good", "over", "uncertain",
    "between", "under", "keypad", "0" * 64, "../../etc/passwd", "f" * 64 + ".flac", 1439, 1440, -100_000,
)  # fmt: skip


def _one_cell(connection: sqlite3.Connection, dice: random.Random) -> str:
    column, value, seq = dice.choice(ALL), dice.choice(ODD), dice.choice(_numbers(connection))
    connection.execute(f"UPDATE event SET {column} = ? WHERE seq = ?", (value, seq))  # noqa: S608
    return f"{column} of event {seq} = {str(value)[:40]!r}"


def _own_value(connection: sqlite3.Connection, dice: random.Random) -> str:
    """A cell takes what another row, or another column, holds."""
    column, seq = dice.choice(ALL), dice.choice(_numbers(connection))
    source = dice.choice((column, dice.choice(ALL)))
    from_seq = dice.choice(_numbers(connection))
    connection.execute(
        f"UPDATE event SET {column} = (SELECT {source} FROM event WHERE seq = ?) WHERE seq = ?",  # noqa: S608
        (from_seq, seq),
    )
    return f"{column} of event {seq} = {source} of event {from_seq}"


def _whole_column(connection: sqlite3.Connection, dice: random.Random) -> str:
    column, value = dice.choice(ALL), dice.choice(ODD)
    connection.execute(f"UPDATE event SET {column} = ?", (value,))  # noqa: S608
    return f"{column} of every event = {str(value)[:40]!r}"


def _no_row(connection: sqlite3.Connection, dice: random.Random) -> str:
    seq = dice.choice(_numbers(connection))
    connection.execute("DELETE FROM event WHERE seq = ?", (seq,))
    return f"event {seq} removed"


def _shape(connection: sqlite3.Connection, dice: random.Random) -> str:
    """Something else in place of the table."""
    columns = ", ".join(ALL)
    what, *statements = dice.choice(
        (  # all names are our own
            ("a view", f"CREATE VIEW event AS SELECT {columns} FROM kept"),  # noqa: S608
            (
                "a view without end",
                "CREATE VIEW event AS WITH RECURSIVE n(i) AS (SELECT 1 UNION ALL SELECT i + 1 FROM n) "  # noqa: S608
                f"SELECT i AS seq, {', '.join(ALL[1:])} FROM n, (SELECT * FROM kept LIMIT 1)",
            ),
            ("a table of fewer columns", "CREATE TABLE event AS SELECT seq, id, kind FROM kept"),
            ("a table of more columns", "CREATE TABLE event AS SELECT *, 1 AS more FROM kept"),
            ("no table",),
            ("an empty table", "CREATE TABLE event AS SELECT * FROM kept LIMIT 0"),
            ("rows twice", "CREATE TABLE event AS SELECT * FROM kept UNION ALL SELECT * FROM kept"),
            (
                "a column that is worked out",
                f"CREATE TABLE event ({', '.join(ALL[:-1])}, hash AS (hex(zeroblob(100000000))))",
                f"INSERT INTO event ({', '.join(ALL[:-1])}) SELECT {', '.join(ALL[:-1])} FROM kept",  # noqa: S608
            ),
        )
    )
    connection.execute("ALTER TABLE event RENAME TO kept")
    for statement in statements:
        connection.execute(statement)
    return what


def _version(connection: sqlite3.Connection, dice: random.Random) -> str:
    number = dice.choice((-(2**31), -1, 0, 2, 2**31 - 1))
    connection.execute(f"PRAGMA user_version = {number}")
    return f"version {number}"


def _plan(connection: sqlite3.Connection, dice: random.Random) -> str:
    """Another plan in the event that opened the journal."""
    old = json.loads(connection.execute("SELECT data FROM event WHERE seq = 1").fetchone()[0])
    lines = old["plan"].split("\n")
    number = dice.randrange(len(lines))
    lines[number] = dice.choice(
        ("", "[" * 50_000, "x." * 100_000 + "y = 1", "cylinder = 99", 'unit = "mm"', 'rule = "tick"', "\x00")
    )
    new = json.dumps({**old, "plan": "\n".join(lines)})
    connection.execute("UPDATE event SET data = ? WHERE seq = 1", (new,))
    return f"line {number} of the plan = {lines[number][:40]!r}"


_HOW = (*[_one_cell] * 12, *[_own_value] * 3, _whole_column, _no_row, _shape, _version, _plan)


def _numbers(connection: sqlite3.Connection) -> list[int]:
    return [row[0] for row in connection.execute("SELECT seq FROM event")]


def altered(path: Path, seed: int) -> str:
    """Alter one thing in the good journal at `path`, as `seed` has it; say what."""
    dice = random.Random(seed)
    connection = sqlite3.connect(path, isolation_level=None)
    connection.execute("PRAGMA synchronous = OFF")
    for name in ("event_follows", "event_keeps", "event_stays"):
        connection.execute(f"DROP TRIGGER {name}")
    connection.execute("DROP VIEW reading")
    loose = dice.random() < 0.7
    if loose:  # without types and constraints, so that anything can stand anywhere
        connection.execute("ALTER TABLE event RENAME TO old")
        connection.execute(f"CREATE TABLE event ({', '.join(ALL)})")
        connection.execute("INSERT INTO event SELECT * FROM old")
        connection.execute("DROP TABLE old")
    while True:
        with contextlib.suppress(sqlite3.IntegrityError):  # what a strict table refuses
            what = dice.choice(_HOW)(connection, dice)
            break
    connection.execute("PRAGMA journal_mode = DELETE")
    connection.close()
    return what + (" (a table without types)" if loose else "")


def commands(folder: Path, bad: Path) -> dict[str, tuple[str, ...]]:
    """Return every command that reads a journal, by name; `folder` has a good one as well."""
    out = str(folder.parent / "out")
    exports = {
        f"export {form}": ("export", str(bad), "--to", form, "--out", out)
        for form in ("csv", "json", "xlsx", "pdf")
    }
    return {
        "verify": ("journal", "verify", str(bad)),
        "show": ("journal", "show", str(bad), "--log"),
        "list": ("journal", "list", str(folder)),
        "stats": ("journal", "stats", str(folder)),
        "compare": ("journal", "compare", str(folder / "good"), str(bad)),
        "play": ("journal", "play", str(bad), "2", "--out", out),
        **exports,
    }


def wrong_with(name: str, status: object, said: str, errors: str, took_s: float) -> str | None:
    """Say what is wrong with the end of a command; None where it ended as it should."""
    fine = (0, 1, 2) if name == "verify" else (0, 2)
    if status not in fine or "Traceback" in errors:
        return f"status {status}: {errors[-300:]}"
    if status == 2 and (len(errors.splitlines()) != 1 or len(errors) > 1_000):
        return f"not one sentence: {errors[:300]}"
    if name == "list" and "good:" not in said:
        return "the good journal isn't listed"
    return f"took {took_s:.1f} s" if took_s > MOST_S else None


def ended(arguments: tuple[str, ...]) -> tuple[object, str, str, float]:
    """Run one command here; give its status, what it said on both channels, and how long it took."""
    out, errors = (io.TextIOWrapper(io.BytesIO(), encoding="utf-8", newline="") for _ in range(2))
    began = time.monotonic()
    status: object
    with contextlib.redirect_stdout(out), contextlib.redirect_stderr(errors):
        try:
            status = main(arguments)
        except BaseException:
            status = traceback.format_exc()[-300:]
    took_s = time.monotonic() - began
    told = []
    for stream in (out, errors):
        stream.seek(0)
        told.append(stream.read())
    return status, told[0], told[1], took_s


def trial(seed: int, folder: Path) -> list[str]:
    """Alter a journal and run every command over it in a process of its own; give what went wrong."""
    bad, good = folder / "all" / "bad", folder / "all" / "good"
    bad.write_bytes(good.read_bytes())
    what = altered(bad, seed)
    reader, writer = os.pipe()
    child = os.fork()
    if not child:
        signal.alarm(60)
        found = []
        for name, arguments in commands(folder / "all", bad).items():
            wrong = wrong_with(name, *ended(arguments))
            if wrong is not None:
                found.append(f"{seed}: {name}: {what}: {wrong}")
        os.write(writer, "\n".join(found).encode()[:60_000])
        os._exit(0)
    os.close(writer)
    with os.fdopen(reader, "rb") as pipe:
        found = pipe.read().decode("utf-8", "replace").splitlines()
    _, status, used = os.wait4(child, 0)
    if status:
        found.append(f"{seed}: {what}: ended by signal {status}")
    if used.ru_maxrss / 1024 > MOST_MB:
        found.append(f"{seed}: {what}: {used.ru_maxrss / 1024:.0f} MB")
    return found


def campaign(seeds: range, tell: Callable[[str], object] = lambda _: None) -> list[str]:
    """Run many trials; give all that went wrong, and tell it at once."""
    found = []
    signal.signal(signal.SIGALRM, signal.SIG_DFL)
    with tempfile.TemporaryDirectory() as where:
        folder = Path(where)
        (folder / "all").mkdir()
        journals.story_at(folder / "all" / "good")
        for name, arguments in commands(folder / "all", folder / "all" / "good").items():
            if name != "export pdf":  # its threads would be missing in a copy of this process
                ended(arguments)  # so that no trial pays for loading the program
        for seed in seeds:
            wrong = trial(seed, folder)
            found += wrong
            for line in wrong:
                tell(line)
    return found


if __name__ == "__main__":
    resource.setrlimit(resource.RLIMIT_CORE, (0, 0))
    count, first = (*map(int, sys.argv[1:]), *(500, 0)[len(sys.argv) - 1 :])
    faults = campaign(range(first, first + count), print)
    print(f"{count} journals from seed {first} on: {len(faults)} faults")  # noqa: T201 - for whoever runs it
    sys.exit(bool(faults))
