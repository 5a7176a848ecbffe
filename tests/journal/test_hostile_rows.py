"""An altered row ends a command with a status and a sentence, soon and in little memory.

`hostile_rows.py` runs the same over as many journals as asked for.
"""

import json
import sqlite3
import subprocess
import sys
from pathlib import Path

import pytest

from tests.support import journals
from tests.support.program import handsfree, handsfree_here, refusal

ROOT = Path(__file__).parents[2]
READERS = (
    ("journal", "show"),
    ("journal", "show", "--log"),
    ("export", "--to", "csv"),
    ("export", "--to", "json"),
    ("export", "--to", "xlsx"),
    ("export", "--to", "pdf"),
)


def alter(path, statement, *values):
    """Change a journal's file as somebody could who may write it."""
    connection = sqlite3.connect(path)
    for name in ("event_follows", "event_keeps", "event_stays"):
        connection.execute(f"DROP TRIGGER {name}")
    connection.execute(statement, values)
    connection.commit()
    connection.close()


CELLS = {
    "a number beyond all": ("UPDATE event SET seq = ? WHERE seq = 5", 2**63 - 1),
    "a value beyond all": ("UPDATE event SET value = ? WHERE seq = 2", "1e999999999"),
    "a zero beyond all": ("UPDATE event SET value = ? WHERE seq = 2", "0e-999999999"),
    "labels nested deep": ("UPDATE event SET labels = ? WHERE seq = 2", "[" * 100_000),
    "data nested deep": ("UPDATE event SET data = ? WHERE seq = 3", "[" * 100_000 + "]" * 100_000),
    "data nested": ("UPDATE event SET data = ? WHERE seq = 3", '{"a": ' + "[" * 500 + "]" * 500 + "}"),
    "no offset": ("UPDATE event SET offset_minutes = ? WHERE seq = 2", 100_000),
    "an offset in words": ("UPDATE event SET offset_minutes = ? WHERE seq = 2", "early"),
    "no kind, but a long text": ("UPDATE event SET kind = ? WHERE seq = 2", '{"a":' * 100_000),
    "no unit, but a long text": ("UPDATE event SET unit = ? WHERE seq = 2", "[" * 100_000),
    "no verdict": ("UPDATE event SET verdict = ? WHERE seq = 2", "splendid"),
    "no count": ("UPDATE event SET data = ? WHERE kind = 'turns'", '{"count": "many"}'),
    "a time out of reach": ("UPDATE event SET at = ? WHERE seq = 2", "0001-01-01T00:00:00+23:59"),
}


@pytest.fixture
def story(tmp_path):
    """A journal with everything in it, and a good one beside it."""
    (tmp_path / "all").mkdir()
    for name in ("bad", "good"):
        journals.story_at(tmp_path / "all" / name)
    return tmp_path / "all" / "bad"


@pytest.mark.parametrize("change", CELLS.values(), ids=CELLS.keys())
def test_an_altered_cell_gets_a_sentence(story, change):
    alter(story, *change)
    for command, *more in READERS:
        action = (more.pop(0),) if command == "journal" else ()
        said = refusal(handsfree_here(command, *action, story, *more))
        assert "can't be read" in said
        assert len(said) < 600
    found = handsfree_here("journal", "verify", story)
    assert found.returncode == 1
    assert "altered" in found.stdout or "moved" in found.stdout
    listed = handsfree_here("journal", "list", story.parent)
    assert listed.returncode == 0
    assert "good:" in listed.stdout
    assert listed.stdout.count("not read:") == 1


def test_a_number_in_words_gets_a_sentence(story):
    connection = sqlite3.connect(story)
    for statement in (
        "ALTER TABLE event RENAME TO old",
        f"CREATE TABLE event ({', '.join(row[1] for row in connection.execute('PRAGMA table_info(event)'))})",
        "INSERT INTO event SELECT * FROM old",
        "DROP TABLE old",
        "UPDATE event SET seq = 'five' WHERE seq = 5",
    ):
        connection.execute("DROP VIEW IF EXISTS reading")
        connection.execute(statement)
    connection.commit()
    connection.close()
    assert "'five'" in refusal(handsfree_here("journal", "show", story))
    assert handsfree_here("journal", "verify", story).returncode == 1


def test_a_view_in_place_of_the_table_is_refused(story):
    alter(story, "DROP VIEW reading")
    connection = sqlite3.connect(story)
    connection.execute("ALTER TABLE event RENAME TO kept")
    connection.execute(
        "CREATE VIEW event AS WITH RECURSIVE n(i) AS (SELECT 1 UNION ALL SELECT i + 1 FROM n) "
        "SELECT i AS seq, kept.* FROM n, kept"
    )
    connection.commit()
    connection.close()
    for action in ("show", "verify"):
        assert "aren't in the table" in refusal(handsfree_here("journal", action, story))
    said = refusal(
        handsfree("bench", "demo/plan.toml", "--journal", story, "--plain", "--silent", "--no-microphone")
    )
    assert "aren't in the table" in said


def test_a_plan_without_end_in_a_journal_gets_a_sentence(story):
    connection = sqlite3.connect(story)
    data = json.loads(connection.execute("SELECT data FROM event WHERE seq = 1").fetchone()[0])
    connection.close()
    text = json.dumps({**data, "plan": "x." * 100_000 + "y = 1"})
    alter(story, "UPDATE event SET data = ? WHERE seq = 1", text)
    assert "too long" in refusal(handsfree_here("journal", "show", story))


def test_a_campaign_of_altered_rows():
    """In a program of its own: each trial is a copy of it, and a copy lacks the threads that this one has."""
    command = [sys.executable, "-m", "tests.journal.hostile_rows", "25", "1000"]
    done = subprocess.run(command, cwd=ROOT, capture_output=True, text=True, timeout=600, check=False)
    assert (done.stdout, done.returncode) == ("25 journals from seed 1000 on: 0 faults\n", 0)
