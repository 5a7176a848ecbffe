"""A journal of any released version opens in this one, and becomes one of today without loss."""

import shutil
import sqlite3
import threading
from pathlib import Path

import pytest

from handsfree.errors import JournalError
from handsfree.export.csv_json import from_json
from handsfree.journal import Draft, Journal, Kind, schema, store, verify
from handsfree.session import read

pytestmark = pytest.mark.quick

DATA = Path(__file__).parent / "data"
RELEASED = sorted(DATA.glob("schema-*.journal"))


def test_every_released_schema_has_a_fixture():
    assert [path.stem for path in RELEASED] == [f"schema-{n}" for n in range(1, len(schema.MIGRATIONS) + 1)]


@pytest.mark.parametrize("fixture", RELEASED, ids=lambda path: path.stem)
def test_a_journal_of_a_released_version_is_read_as_it_was_then(tmp_path, fixture):
    path = Path(shutil.copy(fixture, tmp_path / "j"))
    wanted = from_json(fixture.with_suffix(".json").read_bytes())
    before = path.read_bytes()
    with Journal.open(path, read_only=True) as journal:
        assert journal.events() == wanted
    assert verify(path).holds
    assert path.read_bytes() == before  # reading changes nothing
    with Journal.open(path) as journal:
        assert journal.events() == wanted
        assert journal.append(Draft(Kind.RESUMED)).seq == len(wanted) + 1
    assert verify(path).holds
    assert read(path).session.finished is False


def add_a_column(connection):
    connection.execute("ALTER TABLE event ADD COLUMN temperature TEXT")


def fail(connection):
    connection.execute("ALTER TABLE event ADD COLUMN temperature TEXT")
    raise RuntimeError("power cut")


@pytest.fixture
def newer(monkeypatch):
    """Give this program one more migration, as next year's has."""

    def with_migration(step):
        monkeypatch.setattr(store, "MIGRATIONS", (*schema.MIGRATIONS, step))

    return with_migration


def version_of(path):
    connection = sqlite3.connect(path)
    found = connection.execute("PRAGMA user_version").fetchone()[0]
    connection.close()
    return found


@pytest.fixture
def path(tmp_path):
    return Path(shutil.copy(RELEASED[-1], tmp_path / "j"))


def test_opening_for_writing_brings_a_journal_up_and_keeps_every_event(path, newer):
    with Journal.open(path, read_only=True) as journal:
        before = journal.events()
    newer(add_a_column)
    with Journal.open(path) as journal:
        assert journal.events() == before
        journal.append(Draft(Kind.RESUMED))
    assert version_of(path) == len(schema.MIGRATIONS) + 1
    assert verify(path).holds


def test_opening_for_reading_leaves_an_older_journal_as_it_is(path, newer):
    before = path.read_bytes()
    newer(add_a_column)
    with Journal.open(path, read_only=True) as journal:
        assert len(journal.events()) == 35
    assert path.read_bytes() == before


def test_a_migration_that_fails_leaves_the_journal_as_it_was(path, newer):
    newer(fail)
    with pytest.raises(RuntimeError):
        Journal.open(path)
    assert version_of(path) == len(schema.MIGRATIONS)
    connection = sqlite3.connect(path)
    assert "temperature" not in [row[1] for row in connection.execute("PRAGMA table_info(event)")]
    connection.close()
    newer(add_a_column)
    with Journal.open(path) as journal:
        assert len(journal.events()) == 35


def test_programs_that_open_an_older_journal_at_once_migrate_it_once(path, newer):
    newer(add_a_column)
    faults = []

    def work():
        try:
            Journal.open(path).close()
        except JournalError as fault:  # whoever comes second is told who is at it
            faults.append(str(fault))

    threads = [threading.Thread(target=work) for _ in range(4)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert all("is being written by process" in fault for fault in faults)
    assert version_of(path) == len(schema.MIGRATIONS) + 1
    assert verify(path).holds


def test_the_journal_of_next_year_is_refused_by_this_years_program(path, newer, monkeypatch):
    newer(add_a_column)
    Journal.open(path).close()
    monkeypatch.setattr(store, "MIGRATIONS", schema.MIGRATIONS)
    with pytest.raises(JournalError, match="update handsfree to open it"):
        Journal.open(path)
