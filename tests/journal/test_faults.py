"""What stands in a journal's way gets one sentence, and no event is dropped."""

import json
import os
import shutil
import sqlite3
import subprocess
import sys
import tempfile
from pathlib import Path

import pytest

from handsfree.errors import JournalError
from handsfree.journal import Journal, columns, head, verify
from handsfree.journal.journal import DamagedJournalError

pytestmark = pytest.mark.quick

NESTED = b'{"journal": ' + b"[" * 500 + b"]" * 500 + b"}"  # more than can be written out again everywhere


def test_a_folder_is_refused(tmp_path):
    with pytest.raises(JournalError, match="is a folder, not a journal"):
        Journal.open(tmp_path)


def test_a_missing_folder_is_named(tmp_path):
    with pytest.raises(JournalError, match=r"The folder .*nowhere doesn't exist"):
        Journal.open(tmp_path / "nowhere" / "j")


def test_a_pipe_is_refused(tmp_path):
    os.mkfifo(tmp_path / "j")
    with pytest.raises(JournalError, match="is not a file"):
        Journal.open(tmp_path / "j")


@pytest.mark.parametrize("content", [b"position,value\r\n", b"SQLite format 3\0", b"\0" * 4096])
def test_a_file_of_another_kind_is_refused_and_left_as_it_is(tmp_path, content):
    (tmp_path / "j").write_bytes(content)
    for read_only in (False, True):
        with pytest.raises(JournalError, match="is not a handsfree journal"):
            Journal.open(tmp_path / "j", read_only=read_only)
    assert (tmp_path / "j").read_bytes() == content


def test_another_programs_database_is_refused_and_left_as_it_is(tmp_path):
    connection = sqlite3.connect(tmp_path / "j")
    connection.execute("PRAGMA journal_mode = WAL")
    connection.execute("CREATE TABLE song (name TEXT)")
    connection.commit()
    before = {path.name: path.read_bytes() for path in tmp_path.iterdir() if path.suffix != ".db-shm"}
    for read_only in (False, True):
        with pytest.raises(JournalError, match="another program's database"):
            Journal.open(tmp_path / "j", read_only=read_only)
    assert {name: (tmp_path / name).read_bytes() for name in before} == before
    connection.close()


def test_an_empty_file_becomes_a_journal(tmp_path, reading):
    (tmp_path / "j").touch()
    with Journal.open(tmp_path / "j") as journal:
        assert journal.append(reading("18")).seq == 1


def test_a_journal_of_a_newer_version_is_refused_and_left_as_it_is(tmp_path, reading):
    with Journal.open(tmp_path / "j") as journal:
        journal.append(reading("18"))
    connection = sqlite3.connect(tmp_path / "j")
    connection.execute("PRAGMA user_version = 99")
    connection.close()
    for read_only in (False, True):
        with pytest.raises(
            JournalError, match=r"written by a newer handsfree \(journal version 99, this one"
        ):
            Journal.open(tmp_path / "j", read_only=read_only)


def test_a_link_is_followed_to_the_journal_and_its_log_lies_beside_it(tmp_path, reading):
    real, links = tmp_path / "real", tmp_path / "links"
    real.mkdir()
    links.mkdir()
    (links / "j").symlink_to(real / "j")
    with pytest.raises(JournalError, match="link that leads nowhere"):
        Journal.open(links / "j")
    Journal.open(real / "j").close()
    journal = Journal.open(links / "j")
    journal.append(reading("18"))
    assert journal.path == (real / "j").resolve()
    assert [path.name for path in links.iterdir()] == ["j"]
    journal.close()


def test_a_link_in_a_circle_is_refused(tmp_path):
    (tmp_path / "a").symlink_to(tmp_path / "b")
    (tmp_path / "b").symlink_to(tmp_path / "a")
    with pytest.raises(JournalError, match="link that leads nowhere"):
        Journal.open(tmp_path / "a")


@pytest.mark.parametrize(
    "name", ["a'b\"c", "per%20cent", "what?x=1#y", "\u202ereversed", "a\nb", ".hidden", "-flag"]
)
def test_odd_file_names_are_just_names(tmp_path, reading, name):
    with Journal.open(tmp_path / name) as journal:
        event = journal.append(reading("18"))
    assert (tmp_path / name).is_file()
    with Journal.open(tmp_path / name, read_only=True) as journal:
        assert journal.events() == [event]


def test_a_torn_journal_says_that_it_is_damaged(tmp_path, reading):
    with Journal.open(tmp_path / "j") as journal:
        for _ in range(200):
            journal.append(reading("18"))
    size = (tmp_path / "j").stat().st_size
    os.truncate(tmp_path / "j", size // 2)
    with pytest.raises(JournalError, match="is damaged; copy it to a safe place"):
        Journal.open(tmp_path / "j", read_only=True).events()
    with pytest.raises(DamagedJournalError, match="is damaged: it isn't as it was logged"):
        Journal.open(tmp_path / "j")


def test_a_torn_log_costs_only_what_was_torn(tmp_path, reading):
    journal = Journal.open(tmp_path / "j")
    events = [journal.append(reading(str(number))) for number in range(5)]
    copy = tmp_path / "copy"
    copy.mkdir()
    for suffix in ("", "-wal"):
        shutil.copy(tmp_path / f"j{suffix}", copy / f"j{suffix}")
    os.truncate(copy / "j-wal", (copy / "j-wal").stat().st_size - 100)
    journal.close()
    with Journal.open(copy / "j") as torn:
        assert torn.events() == events[:4]
        assert torn.append(reading("9")).seq == 5


# -- faults while events are being logged ---------------------------------------------------------


@pytest.fixture
def locked(tmp_path):
    """A journal that another connection has locked, and the way to unlock it."""
    journal = Journal.open(tmp_path / "j")
    other = sqlite3.connect(tmp_path / "j", isolation_level=None)
    other.execute("BEGIN IMMEDIATE")
    yield journal, lambda: other.execute("ROLLBACK")
    other.close()


def test_a_locked_journal_keeps_events_in_order_and_writes_them_when_it_can(locked, reading):
    journal, unlock = locked
    first, second = journal.append(reading("17")), journal.append(reading("18"))
    assert journal.unsaved == 2
    assert journal.trouble.startswith("Another program is holding the journal")
    assert "2 events aren't in it yet, but kept in" in journal.trouble
    assert journal.alarm == "Another program holds the journal. 2 events aren't saved yet."
    assert journal.events() == [first, second]
    assert not journal.retry()
    unlock()
    third = journal.append(reading("19"))
    assert (journal.unsaved, journal.trouble, journal.alarm) == (0, None, None)
    assert [event.seq for event in (first, second, third)] == [1, 2, 3]
    assert journal.events() == [first, second, third]
    assert head(journal.events()) == journal.head
    journal.close()
    assert not list(journal.path.parent.glob("*.unsaved*"))


def test_what_was_unsaved_when_the_program_died_is_taken_in_when_the_journal_is_opened(
    locked, reading, abandon
):
    journal, unlock = locked
    events = [journal.append(reading("17")), journal.append(reading("18"))]
    with pytest.raises(JournalError, match="2 events aren't in it yet"):
        journal.close()
    unlock()
    abandon(journal)
    with Journal.open(journal.path) as again:  # the first is left as a killed program leaves it
        assert again.events() == events
        assert again.append(reading("19")).seq == 3
    assert journal.retry()  # and it does not write them a second time, should it live after all
    assert len(journal.events()) == 3
    journal.close()


def test_a_program_that_dies_between_taking_them_in_and_removing_them_doubles_nothing(
    locked, reading, abandon
):
    journal, unlock = locked
    events = [journal.append(reading("17")), journal.append(reading("18"))]
    second = Path(f"{journal.path}.unsaved")
    kept = second.read_bytes()
    unlock()
    abandon(journal)
    for _ in range(2):
        with Journal.open(journal.path) as again:
            assert again.events() == events
            assert again.unsaved == 0
        assert not second.exists()
        second.write_bytes(kept)


def test_a_line_of_unsaved_events_that_was_torn_costs_only_itself_and_is_kept(locked, reading, abandon):
    journal, unlock = locked
    events = [journal.append(reading("17")), journal.append(reading("18"))]
    second = Path(f"{journal.path}.unsaved")
    torn = second.read_bytes()[:-40]
    second.write_bytes(torn)
    assert [fault.sentence for fault in verify(journal.path).faults] == [
        f"What was kept in {second} until it could be written is damaged (event 2 of it): that isn't taken "
        f"in. All of it is in {second}; look there, and measure again what is missing."
    ]
    unlock()
    abandon(journal)
    with Journal.open(journal.path) as again:
        assert again.events() == events[:1]
        (aside,) = journal.path.parent.glob("*.unsaved-damaged-*")
        assert aside.read_bytes() == torn
        (report,) = again.reports
        assert f"is damaged (event 2 of it): that isn't taken in. All of it is in {aside};" in report
    assert not second.exists()
    with Journal.open(journal.path) as later:
        assert later.reports == ()


@pytest.mark.parametrize(
    ("change", "kept", "wrong"),
    [
        (lambda lines: [lines[0], lines[1].replace(b'"17"', b'"71"'), lines[2]], [1], "event 1 of it"),
        (lambda lines: [lines[0], lines[2], lines[1]], [0, 1], "its end"),
        (lambda lines: lines[:2], [0], "its end"),
        (lambda lines: lines[:1], [], "its end"),
        (lambda lines: lines[:0], [], "its first line"),
        (lambda lines: [lines[0][1:], *lines[1:]], [0, 1], "its first line"),
        (lambda lines: [lines[0][1:], lines[2]], [], "its first line"),
        (lambda lines: [lines[0], b"[" * 100_000, lines[2]], [1], "event 1 of it"),
        (lambda lines: [lines[0], NESTED, lines[2]], [1], "event 1 of it"),
        (lambda lines: [NESTED, *lines[1:]], [0, 1], "its first line"),
    ],
)
def test_what_was_altered_in_unsaved_events_is_not_taken_in_but_kept_and_said(
    locked, reading, abandon, change, kept, wrong
):
    journal, unlock = locked
    events = [journal.append(reading("17")), journal.append(reading("18"))]
    second = Path(f"{journal.path}.unsaved")
    altered = b"\n".join([*change(second.read_bytes().splitlines()), b""])
    second.write_bytes(altered)
    unlock()
    abandon(journal)
    with Journal.open(journal.path) as again:
        assert [event.draft for event in again.events()] == [events[number].draft for number in kept]
        assert f"({wrong})" in again.reports[0]
    (aside,) = journal.path.parent.glob("*.unsaved-damaged-*")
    assert aside.read_bytes() == altered
    assert not second.exists()


def test_a_line_nested_deep_in_unsaved_events_of_an_older_version_is_kept_and_said(tmp_path, reading):
    with Journal.open(tmp_path / "j") as journal:
        first = journal.append(reading("17"))
    second = tmp_path / "j.unsaved"
    second.write_bytes(json.dumps({"journal": first.id}).encode() + b"\n" + NESTED + b"\n")
    assert "(event 1 of it)" in verify(tmp_path / "j").faults[0].sentence
    with Journal.open(tmp_path / "j", read_only=True) as reader:
        assert reader.events() == [first]
    with Journal.open(tmp_path / "j") as again:
        assert again.events() == [first]
        assert "(event 1 of it)" in again.reports[0]


def test_unsaved_events_of_an_older_version_which_kept_no_hashes_are_taken_in(tmp_path, reading):
    """Its form: the journal's first event, then the columns of one event a line."""
    with Journal.open(tmp_path / "j") as journal:
        first = journal.append(reading("17"))
    with Journal.in_memory() as other:
        other.append(reading("17"))
        kept = other.append(reading("18"))
    lines = [json.dumps({"journal": first.id}), json.dumps(columns(kept))]
    Path(f"{tmp_path / 'j'}.unsaved").write_text("\n".join(lines) + "\n", encoding="utf-8")
    with Journal.open(tmp_path / "j") as again:
        assert again.events() == [first, kept]
        assert again.reports == ()


def test_what_was_kept_for_a_deleted_journal_does_not_get_into_a_new_one_of_its_name(
    tmp_path, reading, abandon
):
    journal = Journal.open(tmp_path / "j")
    journal.append(reading("1"))
    other = sqlite3.connect(tmp_path / "j", isolation_level=None)
    other.execute("BEGIN IMMEDIATE")
    kept = journal.append(reading("2"))
    other.close()
    abandon(journal)
    for name in ("j", "j-wal", "j-shm"):
        (tmp_path / name).unlink()
    with Journal.open(tmp_path / "j") as fresh:
        assert fresh.events() == []
        assert fresh.append(reading("3")).seq == 1
    assert not (tmp_path / "j.unsaved").exists()
    (aside,) = tmp_path.glob("j.unsaved-*")
    assert kept.id in aside.read_text()


def test_a_journal_that_another_program_has_to_itself_is_not_opened(tmp_path, reading):
    with Journal.open(tmp_path / "j") as journal:
        journal.append(reading("1"))
    other = sqlite3.connect(tmp_path / "j", isolation_level=None)
    other.execute("PRAGMA locking_mode = EXCLUSIVE")
    other.execute("SELECT count(*) FROM event").fetchone()
    for read_only in (False, True):
        with pytest.raises(JournalError, match=r"Another program is holding the journal .*close it there"):
            Journal.open(tmp_path / "j", read_only=read_only)
    other.close()


def test_a_deleted_journal_says_so_and_keeps_events(tmp_path, reading):
    journal = Journal.open(tmp_path / "j")
    journal.append(reading("17"))
    moved = (tmp_path / "j").rename(tmp_path / "elsewhere")
    event = journal.append(reading("18"))
    assert journal.trouble.startswith(f"The journal {tmp_path / 'j'} was moved or deleted")
    moved.rename(tmp_path / "j")
    assert journal.retry()
    assert journal.events()[-1] == event
    journal.close()


def test_a_full_database_keeps_events_and_speaks_of_the_disk(tmp_path, reading):
    journal = Journal.open(tmp_path / "j")
    pages = journal._connection.execute("PRAGMA page_count").fetchone()[0]
    journal._connection.execute(f"PRAGMA max_page_count = {pages}")
    events = [journal.append(reading(str(number))) for number in range(60)]
    assert journal.unsaved > 0
    assert journal.trouble.startswith("The disk is full")
    journal._connection.execute("PRAGMA max_page_count = 100000")
    assert journal.retry()
    assert journal.events() == events
    journal.close()


SMALL_DISK = """
import sys
from handsfree.length import length
from handsfree.journal import Draft, Journal, Kind
journal = Journal.open(sys.argv[1])
ballast = open(sys.argv[2], "wb", buffering=0)
try:
    while True:
        ballast.write(b"x" * 4096)
except OSError:
    pass
acknowledged = []
for number in range(40):
    event = journal.append(Draft(Kind.READING, value=length(str(number)), note="n" * 2000))
    acknowledged.append(event.id)
assert journal.unsaved, "the disk was to be full"
print(journal.trouble)
ballast.truncate(0)
assert journal.retry(), journal.trouble
assert [event.id for event in journal.events()] == acknowledged
journal.close()
with Journal.open(sys.argv[1]) as again:
    assert [event.id for event in again.events()] == acknowledged
"""


@pytest.mark.skipif(os.name != "posix" or os.geteuid() != 0, reason="only root may mount a small disk")
def test_a_disk_that_really_fills_loses_nothing(tmp_path):
    disk = tmp_path / "disk"
    disk.mkdir()
    mounted = subprocess.run(["mount", "-t", "tmpfs", "-o", "size=256k", "tmpfs", disk], check=False)
    if mounted.returncode:
        pytest.skip("this machine lets nobody mount a disk")
    try:
        done = subprocess.run(
            [sys.executable, "-c", SMALL_DISK, disk / "j", disk / "ballast"],
            capture_output=True,
            text=True,
            check=False,
        )
    finally:
        subprocess.run(["umount", disk], check=True)
    assert done.returncode == 0, done.stderr
    assert done.stdout.startswith("The disk is full, so the journal")
    assert "state" in done.stdout  # kept on the other disk meanwhile


READ_ONLY = """
import os, sys
from handsfree.errors import JournalError
from handsfree.length import length
from handsfree.journal import Draft, Journal, Kind
with Journal.in_memory() as journal:  # everything is imported before the rights go
    journal.append(Draft(Kind.READING, value=length("18")))
    journal.events()
os.setgid(65534); os.setuid(65534)
try:
    Journal.open(sys.argv[1])
except JournalError as fault:
    print(fault)
if len(sys.argv) > 2:
    print(len(Journal.open(sys.argv[1], read_only=True).events()))
"""


@pytest.mark.skipif(os.name != "posix" or os.geteuid() != 0, reason="only root may become another user")
@pytest.mark.parametrize(("exists", "log"), [(False, False), (True, False), (True, True)])
def test_a_read_only_folder_says_so_and_can_still_be_read(tmp_path, reading, exists, log):
    folder = tmp_path / "folder"
    folder.mkdir()
    if exists:
        with Journal.open(folder / "j") as journal:
            journal.append(reading("18"))
    if log:
        (folder / "j-wal").touch()  # as older versions left it after reading
    for path in folder.iterdir():
        os.chown(path, 65534, 65534)  # a journal is for its owner alone
    for parent in (folder, *folder.parents):
        if parent == Path(tempfile.gettempdir()):
            break
        parent.chmod(0o755)
    arguments = [sys.executable, "-c", READ_ONLY, folder / "j", *(["read"] if exists else [])]
    done = subprocess.run(
        arguments, capture_output=True, text=True, check=False, cwd=Path(__file__).parents[2]
    )
    assert done.returncode == 0, done.stderr
    assert "read-only" in done.stdout
    assert not exists or done.stdout.endswith("\n1\n")


def test_reading_a_closed_journal_leaves_nothing_beside_it(tmp_path, reading):
    with Journal.open(tmp_path / "j") as journal:
        event = journal.append(reading("18"))
    before = (tmp_path / "j").read_bytes()
    with Journal.open(tmp_path / "j", read_only=True) as reader:
        assert reader.events() == [event]
    assert sorted(each.name for each in tmp_path.iterdir()) == ["j", "j.newest"]
    assert (tmp_path / "j").read_bytes() == before


def test_a_journal_that_is_being_written_is_read_with_its_newest_events(tmp_path, reading):
    with Journal.open(tmp_path / "j") as journal:
        events = []
        for value in ("17", "18"):
            events.append(journal.append(reading(value)))
            with Journal.open(tmp_path / "j", read_only=True) as reader:
                assert reader.events() == events


def test_what_is_unsaved_is_read_too_and_nothing_is_changed_by_that(locked, reading):
    journal, unlock = locked
    events = [journal.append(reading("17")), journal.append(reading("18"))]
    with Journal.open(journal.path, read_only=True) as reader:
        assert reader.events() == events
        assert reader.head == journal.head
    assert list(journal.path.parent.glob("*.unsaved"))
    unlock()
    assert journal.retry()
    with Journal.open(journal.path, read_only=True) as reader:
        assert reader.events() == events
    journal.close()
