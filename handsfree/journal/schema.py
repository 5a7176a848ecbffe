"""The journal's tables, and their migration from older versions."""

from __future__ import annotations

import sqlite3
from collections.abc import Callable, Sequence

from handsfree.errors import JournalError
from handsfree.journal.columns import COLUMNS, START

APPLICATION_ID = 0x48464A4C  # "HFJL", in SQLite's own field for the program that owns a database

_LARGEST_CELL = 16_000_000  # bytes; also the limit of a row. A plan takes a few thousand

_EVENT_TABLE = """
CREATE TABLE event (
    seq            INTEGER PRIMARY KEY,   -- 1, 2, 3 ... in the order in which things happened
    id             TEXT NOT NULL UNIQUE,  -- UUID version 7: sorts by time
    kind           TEXT NOT NULL,         -- reading, correction, void, move ...
    at             TEXT NOT NULL,         -- UTC, ISO 8601
    offset_minutes INTEGER NOT NULL,      -- local time minus UTC, when it was logged
    program        TEXT NOT NULL,         -- version of handsfree that wrote it
    check_name     TEXT,                  -- which check of the plan
    position       TEXT,                  -- where, to read: cylinder 3, ring top
    labels         TEXT,                  -- where, exactly: [["cylinder","3"],["ring","top"]]
    value          TEXT,                  -- the decimal as it was said
    unit           TEXT,
    bound          TEXT,                  -- under or over: the value is a bound, not a measurement
    other          TEXT,                  -- the second leaf, when it lies between two
    other_unit     TEXT,
    feel           TEXT,
    refers_to      TEXT,                  -- id of the event that this corrects or voids
    verdict        TEXT,                  -- as it was given at the time
    remaining      TEXT,
    remaining_unit TEXT,
    source         TEXT,                  -- voice or keypad
    words          TEXT,                  -- what was heard, or the keys
    recogniser     TEXT,
    fit            REAL,
    margin         REAL,
    runner_up      TEXT,
    origin         TEXT,
    sound          TEXT,                  -- name of the kept recording
    note           TEXT,
    data           TEXT,                  -- whatever else, as JSON
    previous       TEXT NOT NULL,         -- hash of the event before
    hash           TEXT NOT NULL          -- SHA-256 over `previous` and all of the above
)
"""

_REFERS_TO_INDEX = "CREATE INDEX event_refers_to ON event (refers_to) WHERE refers_to IS NOT NULL"

_GUARDS = (
    # INSERT OR REPLACE would delete without firing the delete trigger, so inserts are guarded too.
    f"""
CREATE TRIGGER event_follows BEFORE INSERT ON event
WHEN NEW.seq IS NOT (SELECT coalesce(max(seq), 0) + 1 FROM event)
  OR NEW.previous IS NOT coalesce((SELECT hash FROM event ORDER BY seq DESC LIMIT 1), '{START}')
  OR EXISTS (SELECT 1 FROM event WHERE id = NEW.id)
BEGIN SELECT RAISE(ABORT, 'the journal is append-only: an event must follow the last one'); END
""",  # noqa: S608 - the only thing put in is the constant above
    """
CREATE TRIGGER event_keeps BEFORE UPDATE ON event
BEGIN SELECT RAISE(ABORT, 'the journal is append-only: log a correction instead'); END
""",
    """
CREATE TRIGGER event_stays BEFORE DELETE ON event
BEGIN SELECT RAISE(ABORT, 'the journal is append-only: log a void instead'); END
""",
)

_READING_VIEW = """
CREATE VIEW reading AS
SELECT seq, at, check_name, position, value, unit, bound, other, verdict, remaining, remaining_unit, words,
  CASE
    WHEN EXISTS (SELECT 1 FROM event v WHERE v.kind = 'void' AND v.refers_to = e.id) THEN 'voided'
    WHEN EXISTS (SELECT 1 FROM event c WHERE c.kind = 'correction' AND c.refers_to = e.id
      AND NOT EXISTS (SELECT 1 FROM event v WHERE v.kind = 'void' AND v.refers_to = c.id)) THEN 'corrected'
    ELSE 'stands'
  END AS state
FROM event e WHERE kind IN ('reading', 'correction', 'tick')
"""


def _create(connection: sqlite3.Connection) -> None:
    for statement in (_EVENT_TABLE, _REFERS_TO_INDEX, *_GUARDS, _READING_VIEW):
        connection.execute(statement)


Migration = Callable[[sqlite3.Connection], None]

# The migration at index n takes a journal from version n to n + 1. Released migrations are never changed.
MIGRATIONS: tuple[Migration, ...] = (_create,)

INSERT = (
    f"INSERT INTO event ({', '.join((*COLUMNS, 'previous', 'hash'))}) "  # noqa: S608 - names from our own list
    f"VALUES ({', '.join('?' * (len(COLUMNS) + 2))})"
)
SELECT = f"SELECT {', '.join(COLUMNS)} FROM event ORDER BY seq"  # noqa: S608 - names from our own list
SELECT_FIRST = "SELECT id FROM event WHERE seq = 1"
SELECT_LAST = "SELECT seq, id, hash FROM event ORDER BY seq DESC LIMIT 1"


def version(connection: sqlite3.Connection) -> int:
    """Return the schema version of an open database; 0 for an empty one."""
    return int(connection.execute("PRAGMA user_version").fetchone()[0])


def check_ours(
    connection: sqlite3.Connection, name: str, migrations: Sequence[Migration] = MIGRATIONS
) -> None:
    """Check that a database is empty or a journal that this version can read.

    Raises:
        JournalError: another program's database, or a journal from a newer version.
    """
    owner = int(connection.execute("PRAGMA application_id").fetchone()[0])
    found = version(connection)
    empty = connection.execute("SELECT count(*) FROM sqlite_master").fetchone()[0] == 0
    if owner != APPLICATION_ID and not (empty and owner == 0 and found == 0):
        raise JournalError(
            f"{name} is another program's database, not a handsfree journal; it was left as it is: "
            "name another file."
        )
    if found < 0:
        raise JournalError(
            f"{name} was altered: there is no journal version {found}; go on in a new journal."
        )
    if found > len(migrations):
        raise JournalError(
            f"{name} was written by a newer handsfree (journal version {found}, this one reads up to "
            f"{len(migrations)}); update handsfree to open it."
        )


def check_shape(connection: sqlite3.Connection, name: str) -> None:
    """Check that a journal of today's version keeps its events in a table with the original columns.

    A view or a computed column could yield endless rows.

    Raises:
        JournalError: it was altered.
    """
    connection.setlimit(sqlite3.SQLITE_LIMIT_LENGTH, _LARGEST_CELL)
    connection.execute("PRAGMA trusted_schema = OFF")
    made = connection.execute("SELECT type, sql FROM sqlite_master WHERE name = 'event'").fetchall()
    columns = connection.execute("PRAGMA table_xinfo(event)").fetchall()
    is_table = [kind for kind, _ in made] == ["table"] and str(made[0][1]).upper().startswith("CREATE TABLE")
    stored = {column for _, column, *_, hidden in columns if not hidden}
    if not is_table or not stored >= {*COLUMNS, "previous", "hash"} or len(columns) != len(stored):
        raise JournalError(
            f"{name} was altered: its events aren't in the table that handsfree made; go on in a new journal."
        )


def migrate(connection: sqlite3.Connection, migrations: Sequence[Migration] = MIGRATIONS) -> None:
    """Migrate a journal to today's version; each step and its version number are one transaction."""
    while (current := version(connection)) < len(migrations):
        connection.execute("BEGIN IMMEDIATE")
        try:
            if version(connection) == current:  # no other program migrated it while we waited for the lock
                migrations[current](connection)
                connection.execute(f"PRAGMA application_id = {APPLICATION_ID}")
                connection.execute(f"PRAGMA user_version = {current + 1}")
            connection.execute("COMMIT")
        except BaseException:
            connection.execute("ROLLBACK")
            raise
