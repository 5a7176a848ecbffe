"""One program at a time writes a journal; the second is told who, and nothing that died holds it up."""

import os
import signal
import subprocess
import sys

import pytest

from handsfree.errors import JournalError
from handsfree.journal import Journal
from handsfree.journal.beside import Hold

LOGS = """
import sys, time
from handsfree.length import length
from handsfree.journal import Draft, Journal, Kind
journal = Journal.open(sys.argv[1])
journal.append(Draft(Kind.READING, value=length("18")))
print("logged", flush=True)
time.sleep(60)
"""


def start(script, path):
    return subprocess.Popen([sys.executable, "-c", script, path], stdout=subprocess.PIPE, text=True)


@pytest.fixture
def writer(tmp_path):
    program = start(LOGS, tmp_path / "j")
    assert program.stdout.readline() == "logged\n"
    yield program
    program.kill()
    program.wait()
    program.stdout.close()


def test_the_second_program_is_told_who_writes_since_when_and_what_to_do(tmp_path, writer):
    with pytest.raises(JournalError) as caught:
        Journal.open(tmp_path / "j")
    sentence = str(caught.value)
    assert f"is being written by process {writer.pid} on {os.uname().nodename} since 20" in sentence
    assert sentence.endswith("Meanwhile `handsfree journal show` shows how far it is.")
    with Journal.open(tmp_path / "j", read_only=True) as reader:  # who only reads may
        assert len(reader.events()) == 1


@pytest.mark.parametrize("told", [b"[" * 4000, b"[" * 2000 + b"]" * 2000, b"\xff", b"{}", b"[]"])
def test_whatever_the_lock_file_says_the_second_program_is_refused_with_a_sentence(tmp_path, told):
    with Journal.open(tmp_path / "j"):
        (tmp_path / "j.lock").write_bytes(told)
        with pytest.raises(JournalError, match="is being written by another program; close it there"):
            Journal.open(tmp_path / "j")


@pytest.mark.skipif(os.name != "posix", reason="needs SIGKILL")
def test_a_killed_program_leaves_nothing_behind_that_holds_the_next_one_up(tmp_path, writer, reading):
    writer.send_signal(signal.SIGKILL)
    writer.wait()
    assert (tmp_path / "j.lock").exists()
    with Journal.open(tmp_path / "j") as journal:
        assert journal.append(reading("19")).seq == 2
    assert not (tmp_path / "j.lock").exists()


@pytest.mark.skipif(os.name != "posix", reason="needs signals")
def test_a_child_that_outlives_a_killed_program_does_not_hold_the_journal(tmp_path):
    script = LOGS.replace(
        'print("logged"', 'import subprocess; print(subprocess.Popen(["sleep", "60"]).pid); print("logged"'
    )
    program = start(script, tmp_path / "j")
    child = int(program.stdout.readline())
    assert program.stdout.readline() == "logged\n"
    program.kill()
    program.wait()
    try:
        os.kill(child, 0)  # it lives
        Journal.open(tmp_path / "j").close()
    finally:
        os.kill(child, signal.SIGKILL)
        program.stdout.close()


def test_the_same_program_cannot_write_it_twice_either(tmp_path):
    with Journal.open(tmp_path / "j"):
        with pytest.raises(JournalError, match=f"is being written by process {os.getpid()}"):
            Journal.open(tmp_path / "j")
        (tmp_path / "link").symlink_to(tmp_path / "j")
        with pytest.raises(JournalError, match="is being written by"):
            Journal.open(tmp_path / "link")
    Journal.open(tmp_path / "j").close()


def test_a_journal_that_could_not_be_opened_is_not_held(tmp_path):
    (tmp_path / "j").write_bytes(b"no journal")
    for _ in range(2):
        with pytest.raises(JournalError, match="is not a handsfree journal"):
            Journal.open(tmp_path / "j")
    assert [path.name for path in tmp_path.iterdir()] == ["j"]


def test_who_writes_is_said_even_where_the_file_does_not_tell(tmp_path):
    held = Hold.take(tmp_path / "j")
    for content in ("", "[1]", '{"pid": "x"}'):
        (tmp_path / "j.lock").write_text(content)
        with pytest.raises(JournalError, match="is being written by another program;"):
            Hold.take(tmp_path / "j")
    held.release()
    Hold.take(tmp_path / "j").release()


def test_many_that_come_and_go_never_write_at_once(tmp_path):
    """The file is removed with the lock, so a newcomer may have locked one that is no longer there."""
    script = """
import sys, time
from pathlib import Path
from handsfree.errors import JournalError
from handsfree.journal.beside import Hold
mark = Path(sys.argv[1] + ".mark")
until = time.monotonic() + 1.5
took = 0
while time.monotonic() < until:
    try:
        held = Hold.take(Path(sys.argv[1]))
    except JournalError:
        continue
    mark.touch(exist_ok=False)  # another one in here at the same time would have made it
    mark.unlink()
    held.release()
    took += 1
print(took)
"""
    programs = [start(script, tmp_path / "j") for _ in range(3)]
    took = [program.communicate()[0] for program in programs]
    assert [program.returncode for program in programs] == [0, 0, 0]
    assert sum(map(int, took)) > 10
