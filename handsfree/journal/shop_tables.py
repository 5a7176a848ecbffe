"""The shop's database: one row an event, exactly as in the journal, and views for queries.

Events are copied literally, as text, so that the hash chain can be computed there too. The views convert
them to types. Nothing there is ever updated or deleted: triggers refuse it.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from handsfree.errors import ShareError
from handsfree.journal.columns import COLUMNS

if TYPE_CHECKING:
    from sqlalchemy import Connection, MetaData, Table

SCHEMA = "handsfree"
VERSION = 1

_LOCK = 0x48464A4C  # advisory lock: one program at a time makes or migrates the tables

_GUARDS = """
CREATE OR REPLACE FUNCTION handsfree.refuse() RETURNS trigger LANGUAGE plpgsql AS $$
BEGIN RAISE EXCEPTION 'shared journals are append-only'; END $$;
CREATE OR REPLACE TRIGGER event_keeps BEFORE UPDATE OR DELETE ON handsfree.event
  FOR EACH ROW EXECUTE FUNCTION handsfree.refuse();
CREATE OR REPLACE TRIGGER event_stays BEFORE TRUNCATE ON handsfree.event
  FOR EACH STATEMENT EXECUTE FUNCTION handsfree.refuse();
"""

_VIEWS = """
CREATE OR REPLACE VIEW handsfree.readings AS
WITH RECURSIVE entry AS (
  SELECT e.*, e.seq AS measured, e.check_name AS at_check, e.position AS at_position
  FROM handsfree.event e
  WHERE e.kind IN ('reading', 'tick') OR (e.kind = 'correction' AND NOT EXISTS (
    SELECT 1 FROM handsfree.event o WHERE o.journal = e.journal AND o.id = e.refers_to AND o.seq < e.seq
      AND o.kind IN ('reading', 'correction', 'tick')))
  UNION ALL
  SELECT c.*, entry.measured, coalesce(c.check_name, entry.at_check), coalesce(c.position, entry.at_position)
  FROM handsfree.event c JOIN entry
    ON c.journal = entry.journal AND c.refers_to = entry.id AND c.kind = 'correction' AND c.seq > entry.seq
)
SELECT
  j.engine, j.bench, entry.journal, entry.seq, entry.at_check AS check_name, entry.at_position AS position,
  entry.value::numeric AS value, entry.unit, entry.bound, entry.other::numeric AS other, entry.other_unit,
  entry.feel, entry.verdict, entry.remaining::numeric AS remaining, entry.remaining_unit,
  CASE
    WHEN EXISTS (SELECT 1 FROM handsfree.event v
      WHERE v.journal = entry.journal AND v.kind = 'void' AND v.refers_to = entry.id) THEN 'voided'
    WHEN EXISTS (SELECT 1 FROM handsfree.event c
      WHERE c.journal = entry.journal AND c.kind = 'correction' AND c.refers_to = entry.id
        AND NOT EXISTS (SELECT 1 FROM handsfree.event v
          WHERE v.journal = entry.journal AND v.kind = 'void' AND v.refers_to = c.id)) THEN 'corrected'
    ELSE 'stands'
  END AS state,
  entry.source, entry.words AS heard, entry.fit, entry.margin, entry.measured,
  entry.at::timestamptz AS logged_at, entry.offset_minutes, entry.id, entry.refers_to, entry.note
FROM entry JOIN handsfree.journal j ON j.id = entry.journal;

CREATE OR REPLACE VIEW handsfree.current_verdicts AS
SELECT DISTINCT ON (journal, check_name, position)
  engine, bench, journal, check_name, position, value, unit, bound, other, verdict, remaining, remaining_unit,
  logged_at, seq
FROM handsfree.readings WHERE state = 'stands'
ORDER BY journal, check_name, position, measured DESC, seq DESC;

CREATE OR REPLACE VIEW handsfree.sessions AS
SELECT
  j.id AS journal, j.engine, j.plan, j.bench, j.who, j.file,
  s.began, s.ended, s.events, s.readings, s.finished,
  (SELECT e.hash FROM handsfree.event e WHERE e.journal = j.id ORDER BY e.seq DESC LIMIT 1) AS hash
FROM handsfree.journal j JOIN (
  SELECT journal, min(at)::timestamptz AS began, max(at)::timestamptz AS ended, count(*) AS events,
    count(*) FILTER (WHERE kind IN ('reading', 'correction')) AS readings,
    coalesce(max(seq) FILTER (WHERE kind = 'finished')
      > coalesce(max(seq) FILTER (WHERE kind IN ('resumed', 'opened')), 0), false) AS finished
  FROM handsfree.event GROUP BY journal
) s ON s.journal = j.id;

COMMENT ON VIEW handsfree.readings IS 'Every entry, with what became of it: stands, corrected or voided.';
COMMENT ON VIEW handsfree.current_verdicts IS 'For each place, the entry that counts now.';
COMMENT ON VIEW handsfree.sessions IS 'One line a journal.';
"""


def tables(metadata: MetaData) -> tuple[Table, Table]:
    """Return the tables of journals and of events."""
    from sqlalchemy import BigInteger, Column, DateTime, Double, ForeignKey, Integer, Table, Text, func

    journal = Table(
        "journal",
        metadata,
        Column("id", Text, primary_key=True, comment="id of the journal's first event"),
        Column("engine", Text),
        Column("plan", Text),
        Column("plan_digest", Text),
        Column("who", Text),
        Column("bench", Text, nullable=False),
        Column("file", Text, nullable=False),
        Column("first_shared", DateTime(timezone=True), server_default=func.now(), nullable=False),
        schema=SCHEMA,
    )
    whole, real = {"seq": BigInteger, "offset_minutes": Integer}, {"fit", "margin"}
    event = Table(
        "event",
        metadata,
        Column("journal", Text, ForeignKey(journal.c.id), primary_key=True),
        *(
            Column(
                name,
                whole.get(name, Double if name in real else Text),
                primary_key=name == "seq",
                unique=name == "id",
                nullable=name not in ("seq", "id", "kind", "at", "offset_minutes", "program"),
            )
            for name in COLUMNS
        ),
        Column("previous", Text, nullable=False),
        Column("hash", Text, nullable=False),
        Column("shared_at", DateTime(timezone=True), server_default=func.now(), nullable=False),
        schema=SCHEMA,
    )
    return journal, event


def prepare(connection: Connection, metadata: MetaData) -> None:
    """Make the missing tables, guards and views; safe with ten benches at once.

    Raises:
        ShareError: they were made by a newer handsfree.
    """
    from sqlalchemy import text

    connection.execute(text("SELECT pg_advisory_xact_lock(:lock)"), {"lock": _LOCK})
    found = _version(connection)
    if found > VERSION:
        raise ShareError(
            f"The shop's database was set up by a newer handsfree (form {found}, this one knows up to "
            f"{VERSION}); update handsfree on this bench."
        )
    if found == VERSION:
        return
    connection.execute(text("CREATE SCHEMA IF NOT EXISTS handsfree"))
    connection.execute(text("CREATE TABLE IF NOT EXISTS handsfree.form (version integer NOT NULL)"))
    metadata.create_all(connection)
    connection.execute(
        text("CREATE INDEX ON handsfree.event (journal, refers_to) WHERE refers_to IS NOT NULL")
    )
    for block in (_GUARDS, _VIEWS):
        connection.exec_driver_sql(block)
    connection.execute(text("INSERT INTO handsfree.form (version) VALUES (:version)"), {"version": VERSION})


def _version(connection: Connection) -> int:
    from sqlalchemy import text

    if connection.execute(text("SELECT to_regclass('handsfree.form')")).scalar() is None:
        return 0
    return int(connection.execute(text("SELECT coalesce(max(version), 0) FROM handsfree.form")).scalar() or 0)
