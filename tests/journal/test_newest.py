"""A cut end is found by what is noted outside the database, and what was logged soon gets into it."""

import json
import shutil
import sqlite3
import time

import pytest

from handsfree.journal import Journal, verify
from handsfree.journal.beside import Newest, Witness
from handsfree.journal.journal import DamagedJournalError

CUT = "The end was cut off: events 4 to 6 are missing, though logged."


@pytest.fixture
def left(tmp_path, reading, monkeypatch):
    """A journal as a killed program leaves it: three events in the database, three only in the log."""
    monkeypatch.setattr("handsfree.journal.store.QUIET_S", 60)
    monkeypatch.setattr("handsfree.journal.store.AT_LATEST_S", 60)
    with Journal.open(tmp_path / "live") as journal:
        for value in ("1", "2", "3"):
            journal.append(reading(value))
    folder = tmp_path / "left"
    folder.mkdir()
    journal = Journal.open(tmp_path / "live")
    for value in ("4", "5", "6"):
        journal.append(reading(value))
    for end in ("", "-wal", ".newest"):
        shutil.copy(tmp_path / f"live{end}", folder / f"j{end}")
    journal.close()
    return folder / "j"


def beside(path, end):
    return path.with_name(path.name + end)


def sentences(path):
    return [fault.sentence for fault in verify(path).faults]


def test_a_log_that_is_whole_is_read_and_taken_in(left):
    assert verify(left).holds
    with Journal.open(left) as journal:
        assert len(journal.events()) == 6


def test_a_removed_log_is_found_and_nothing_is_written(left):
    beside(left, "-wal").unlink()
    before = left.read_bytes()
    (sentence,) = sentences(left)
    assert sentence.startswith(CUT)
    with pytest.raises(DamagedJournalError, match="events 4 to 6 are missing"):
        Journal.open(left)
    assert left.read_bytes() == before


def test_one_flipped_bit_in_the_log_is_found_and_the_log_is_kept_as_it_was(left):
    log = beside(left, "-wal")
    held = bytearray(log.read_bytes())
    held[32 + 24 + 100] ^= 1  # in the first page of the log, after its header and the page's own
    log.write_bytes(held)
    (sentence,) = sentences(left)
    assert sentence.startswith(CUT)
    with pytest.raises(DamagedJournalError):
        Journal.open(left)
    assert log.read_bytes() == held
    (aside,) = left.parent.glob("j.damaged-*-wal")
    assert aside.read_bytes() == held
    with pytest.raises(DamagedJournalError):
        Journal.open(left)
    assert list(left.parent.glob("j.damaged-*-wal")) == [aside]  # the same is copied once


def test_a_journal_that_lost_all_its_events_is_found(tmp_path, reading, monkeypatch):
    monkeypatch.setattr("handsfree.journal.store.QUIET_S", 60)
    monkeypatch.setattr("handsfree.journal.store.AT_LATEST_S", 60)
    journal = Journal.open(tmp_path / "live")
    journal.append(reading("1"))
    for end in ("", ".newest"):
        shutil.copy(tmp_path / f"live{end}", tmp_path / f"j{end}")
    journal.close()
    (sentence,) = sentences(tmp_path / "j")
    assert sentence.startswith("The end was cut off: event 1 is missing")
    (tmp_path / "j").write_bytes(b"")
    with pytest.raises(DamagedJournalError, match="event 1 is missing"):
        Journal.open(tmp_path / "j")


def test_an_event_in_the_place_of_the_one_that_was_noted_is_found(left):
    owner = Witness(left).read().owner
    beside(left, ".newest").unlink()
    Witness(left).write(Newest(owner, 6, "f" * 64))
    assert sentences(left) == ["Event 6 isn't the one that was logged under that number."]


def test_a_journal_without_the_note_opens_and_gets_one(left):
    beside(left, ".newest").unlink()
    assert verify(left).holds
    with Journal.open(left) as journal:
        head = journal.head
    assert Witness(left).read().hash == head


@pytest.mark.parametrize("place", [0, 1])
def test_a_torn_note_costs_only_its_own_place(left, place):
    """A power cut while one place is written leaves the other, which is one event behind."""
    held = bytearray(beside(left, ".newest").read_bytes())
    held[512 * place + 40 : 512 * (place + 1)] = bytes(472)
    beside(left, ".newest").write_bytes(held)
    assert Witness(left).read().seq in (5, 6)
    assert verify(left).holds


@pytest.mark.parametrize("content", [b"", b"\0" * 1024, b"x" * 5000, b"\xff" * 700, b'abc {"seq": 1}'])
def test_a_note_that_is_none_tells_nothing_and_hurts_nobody(left, content):
    beside(left, ".newest").write_bytes(content)
    assert Witness(left).read() is None
    with Journal.open(left) as journal:
        assert len(journal.events()) == 6
    assert Witness(left).read().seq == 6


def test_the_note_of_a_deleted_journal_is_put_aside_for_a_new_one(left, reading):
    for end in ("", "-wal"):
        beside(left, end).unlink()
    owner = Witness(left).read().owner
    with Journal.open(left) as journal:
        journal.append(reading("7"))
    assert verify(left).holds
    assert beside(left, f".newest-{owner}").exists()


def test_another_journal_under_the_name_is_not_taken_for_a_cut_one(left, tmp_path, reading):
    with Journal.open(tmp_path / "other") as journal:
        journal.append(reading("7"))
    beside(left, "-wal").unlink()
    shutil.copy(tmp_path / "other", left)
    assert verify(left).holds
    with Journal.open(left) as journal:
        journal.append(reading("8"))
    assert Witness(left).read().seq == 2


def test_an_event_is_noted_before_it_is_acknowledged(journal, reading):
    for value in ("1", "2", "3"):
        event = journal.append(reading(value))
        known = Witness(journal.path).read()
        assert (known.seq, known.hash) == (event.seq, journal.head)


def test_a_note_that_cannot_be_written_loses_nothing(tmp_path, reading):
    (tmp_path / "j.newest").mkdir()
    with Journal.open(tmp_path / "j") as journal:
        event = journal.append(reading("18"))
        assert journal.trouble is None
        assert journal.events() == [event]


def test_what_was_logged_gets_into_the_database_at_a_quiet_moment(tmp_path, reading, monkeypatch):
    monkeypatch.setattr("handsfree.journal.store.QUIET_S", 0.02)
    journal = Journal.open(tmp_path / "j")
    journal.append(reading("18"))
    assert _soon(lambda: _in_database_alone(tmp_path) == 1)
    journal.append(reading("19"))
    assert _soon(lambda: _in_database_alone(tmp_path) == 2)
    journal.close()


def test_what_was_logged_gets_into_the_database_where_there_is_no_quiet_moment(
    tmp_path, reading, monkeypatch
):
    monkeypatch.setattr("handsfree.journal.store.QUIET_S", 60)
    monkeypatch.setattr("handsfree.journal.store.AT_LATEST_S", 0.05)
    journal = Journal.open(tmp_path / "j")
    journal.append(reading("18"))
    assert _soon(lambda: _in_database_alone(tmp_path) == 1)
    journal.close()


def _soon(true):
    until = time.monotonic() + 20
    while time.monotonic() < until:
        if true():
            return True
        time.sleep(0.02)
    return False


def _in_database_alone(folder):
    """How many events the database holds without its log."""
    alone = folder / "alone"
    shutil.copy(folder / "j", alone)
    connection = sqlite3.connect(alone)
    count = connection.execute("SELECT count(*) FROM event").fetchone()[0]
    connection.close()
    for path in folder.glob("alone*"):
        path.unlink()
    return count


def test_the_note_can_be_read_by_a_person(left):
    line = beside(left, ".newest").read_text().splitlines()[0].strip()
    assert set(json.loads(line.split(" ", 1)[1])) == {"journal", "seq", "hash"}
