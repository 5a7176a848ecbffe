"""No output goes over a journal, what lies beside one, a plan or an input; a full disk leaves what was."""

import errno
import os
import shutil

import numpy as np
import pytest

from handsfree import files
from handsfree.commands.outputs import refuse_onto, write_output
from handsfree.errors import HandsfreeError
from handsfree.journal import Heard, Journal, Sounds
from handsfree.session import read
from tests.support import journals
from tests.support.program import PLAN, handsfree_here, refusal

ACTIONS = {
    "export csv": ("export", "j", "--to", "csv", "--out"),
    "export json": ("export", "j", "--to", "json", "--out"),
    "export xlsx": ("export", "j", "--to", "xlsx", "--out"),
    "export pdf": ("export", "j", "--to", "pdf", "--out"),
    "stats": ("journal", "stats", "j", "--plot"),
    "play": ("journal", "play", "j", "2", "--out"),
}


@pytest.fixture
def bench(tmp_path, monkeypatch):
    """A folder with a journal, its sounds, another journal and a plan, worked in."""
    plan = journals.plan(4)
    for name in ("j", "other.journal"):
        sound = Sounds.beside(tmp_path / name).save(np.arange(1600, dtype=np.int16))
        with Journal.open(tmp_path / name, clock=journals.clock()) as journal:
            journals.log_many(journal, plan, 0)
            heard = Heard("voice", "eighteen", sound=sound)
            journals.measure(journal, plan, plan.checks[0].positions[0], "18", heard=heard)
            journals.measure(journal, plan, plan.checks[0].positions[1], "18.5")
    (tmp_path / "plan.toml").write_bytes(PLAN.read_bytes())
    os.link(tmp_path / "j", tmp_path / "again")
    (tmp_path / "link").symlink_to("j")
    monkeypatch.chdir(tmp_path)
    return tmp_path


def contents(folder):
    """Every file's bytes."""
    return {path: path.read_bytes() for path in sorted(folder.rglob("*")) if path.is_file()}


@pytest.mark.parametrize("action", ACTIONS.values(), ids=ACTIONS.keys())
@pytest.mark.parametrize(
    "onto",
    [
        "j",
        "./sub/../j",
        "link",
        "again",
        "other.journal",
        "plan.toml",
        "j-wal",
        "j.unsaved",
        "other.journal-shm",
    ],
)
def test_nothing_precious_is_written_over(bench, action, onto):
    (bench / "sub").mkdir()
    before = contents(bench)
    said = refusal(handsfree_here(*action, onto))
    assert "so nothing is written over it" in said
    assert contents(bench) == before


def test_a_kept_sound_is_not_written_over(bench):
    (sound,) = (bench / "j.sounds").iterdir()
    before = contents(bench)
    for name in (sound, bench / "j.sounds" / "new.flac"):
        for action in ACTIONS.values():
            refusal(handsfree_here(*action, name))
    assert contents(bench) == before


@pytest.mark.parametrize("action", ACTIONS.values(), ids=ACTIONS.keys())
def test_a_journal_that_is_open_is_not_written_over(bench, action):
    with Journal.open(bench / "other.journal") as journal:
        journals.measure(journal, journals.plan(4), journals.plan(4).checks[0].positions[2], "17.5")
        refusal(handsfree_here(*action, bench / "other.journal"))
    assert len(read(bench / "other.journal").events) == 4


@pytest.mark.parametrize("action", ACTIONS.values(), ids=ACTIONS.keys())
def test_a_full_disk_leaves_yesterdays_file(bench, action, monkeypatch):
    (bench / "out").write_bytes(b"yesterday")

    def full(_):
        raise OSError(errno.ENOSPC, "No space left on device")

    with monkeypatch.context() as disk:
        disk.setattr(files.os, "fsync", full)
        assert "No space left on device" in refusal(handsfree_here(*action, "out"))
    assert (bench / "out").read_bytes() == b"yesterday"
    assert not list(bench.glob(".*"))
    assert handsfree_here(*action, "out").returncode == 0
    assert (bench / "out").read_bytes() != b"yesterday"


def test_saved_answers_do_not_go_over_recordings(tmp_path):
    plan = tmp_path / "plan.toml"
    shutil.copy(PLAN, plan)
    keys = tmp_path / "a.keys"
    keys.write_text("1*1*18 Enter\n", encoding="utf-8")
    greeting = tmp_path / "say"
    done = handsfree_here("replay", plan, keys, "--say", greeting)
    assert done.returncode == 0, done.stderr
    first = min(greeting.iterdir())
    first.write_bytes(b"a recording of mine")
    assert "what this command reads" in refusal(
        handsfree_here("replay", plan, keys, first, "--say", greeting)
    )
    assert first.read_bytes() == b"a recording of mine"


def test_timings_are_not_added_to_a_journal(bench):
    before = contents(bench)
    for onto in ("j", "plan.toml", "new.journal"):
        words = ("bench", "plan.toml", "--journal", "new.journal", "--plain", "--silent", "--no-microphone")
        refusal(handsfree_here(*words, "--timings", onto))
    assert contents(bench) == before


@pytest.mark.quick
def test_other_files_may_be_written_over(tmp_path):
    for name in ("sheet.csv", "notes.toml", "j.unsaved", "x-wal"):
        (tmp_path / name).write_text("old = 1", encoding="utf-8")
        write_output(tmp_path / name, b"new")
        assert (tmp_path / name).read_bytes() == b"new"


@pytest.mark.quick
def test_what_is_read_is_known_by_any_name(tmp_path):
    (tmp_path / "a").write_text("a", encoding="utf-8")
    os.link(tmp_path / "a", tmp_path / "b")
    (tmp_path / "c").symlink_to("b")
    for name in ("a", "b", "c"):
        with pytest.raises(HandsfreeError, match="what this command reads"):
            refuse_onto(tmp_path / name, [tmp_path / "a"])
