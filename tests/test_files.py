"""Files are written whole or not at all, and what was measured is for its owner alone."""

import errno
import os
import stat
import subprocess
import sys
from pathlib import Path

import numpy as np
import pytest

from handsfree import files
from handsfree.adapt import Adaptation, rehearsal_folder, save_adaptation, write_row
from handsfree.files import make_private_folder, mend, write_whole
from handsfree.journal import Journal, Sounds
from handsfree.journal.unsaved import Unsaved
from handsfree.speak import Sound, save_wav
from tests.support import journals

pytestmark = pytest.mark.quick


@pytest.fixture(params=[0o000, 0o022, 0o077], ids=oct)
def umask(request):
    """A umask as loose, as usual, and as strict as any."""
    before = os.umask(request.param)
    yield request.param
    os.umask(before)


def modes(folder):
    """Every file and folder under a folder that others may use."""
    return {
        str(path.relative_to(folder)): oct(stat.S_IMODE(path.stat().st_mode))
        for path in folder.rglob("*")
        if stat.S_IMODE(path.stat().st_mode) & 0o077
    }


def test_content_is_written_and_replaced(tmp_path):
    write_whole(tmp_path / "a", b"one")
    write_whole(tmp_path / "a", b"two")
    assert (tmp_path / "a").read_bytes() == b"two"
    assert [path.name for path in tmp_path.iterdir()] == ["a"]


def test_a_full_disk_leaves_what_was_there(tmp_path, monkeypatch):
    (tmp_path / "a").write_bytes(b"yesterday")

    def full(_):
        raise OSError(errno.ENOSPC, "No space left on device")

    monkeypatch.setattr(files.os, "fsync", full)
    with pytest.raises(OSError, match="No space"):
        write_whole(tmp_path / "a", b"today")
    assert (tmp_path / "a").read_bytes() == b"yesterday"
    assert [path.name for path in tmp_path.iterdir()] == ["a"]


def test_a_fresh_file_is_never_put_over_another(tmp_path):
    (tmp_path / "a").write_bytes(b"one")
    with pytest.raises(FileExistsError):
        write_whole(tmp_path / "a", b"two", fresh=True)
    (tmp_path / "loose").symlink_to(tmp_path / "nowhere")
    with pytest.raises(FileExistsError):
        write_whole(tmp_path / "loose", b"two", fresh=True)
    write_whole(tmp_path / "b", b"two", fresh=True)
    assert (tmp_path / "a").read_bytes() == b"one"
    assert sorted(path.name for path in tmp_path.iterdir()) == ["a", "b", "loose"]


def test_a_fresh_file_is_kept_apart_where_there_are_no_hard_links(tmp_path, monkeypatch):
    def refused(*_):
        raise OSError(errno.EPERM, "Operation not permitted")

    monkeypatch.setattr(files.Path, "hardlink_to", refused)
    write_whole(tmp_path / "a", b"one", fresh=True)
    with pytest.raises(FileExistsError):
        write_whole(tmp_path / "a", b"two", fresh=True)
    assert (tmp_path / "a").read_bytes() == b"one"


def test_a_link_is_followed(tmp_path):
    (tmp_path / "a").write_bytes(b"one")
    (tmp_path / "link").symlink_to("a")
    write_whole(tmp_path / "link", b"two")
    assert (tmp_path / "link").is_symlink()
    assert (tmp_path / "a").read_bytes() == b"two"


def test_what_is_no_file_is_written_to_as_it_is():
    done = subprocess.run(
        [
            sys.executable,
            "-c",
            "from pathlib import Path; from handsfree.files import write_whole;"
            "write_whole(Path('/dev/stdout'), b'through'); write_whole(Path('/dev/null'), b'away')",
        ],
        capture_output=True,
        check=True,
    )
    assert done.stdout == b"through"
    assert not Path("/dev/null").is_file()


def test_a_mode_is_kept_and_a_new_file_gets_the_usual_one(tmp_path, umask):
    (tmp_path / "a").write_bytes(b"one")
    (tmp_path / "a").chmod(0o640)
    write_whole(tmp_path / "a", b"two")
    write_whole(tmp_path / "b", b"two")
    assert stat.S_IMODE((tmp_path / "a").stat().st_mode) == 0o640
    assert stat.S_IMODE((tmp_path / "b").stat().st_mode) == 0o666 & ~umask


def test_a_journal_with_all_beside_it_is_for_its_owner_alone(tmp_path, umask, monkeypatch):
    monkeypatch.setenv("XDG_STATE_HOME", str(tmp_path / "state"))
    plan = journals.plan(2)
    with Journal.open(tmp_path / "j", clock=journals.clock()) as journal:
        journals.log_many(journal, plan, 4)
        sounds = Sounds.beside(tmp_path / "j")
        assert sounds.save(np.ones(160, np.int16)) is not None
        events = journal.events()
        assert Unsaved(tmp_path / "j").keep(events, events[0].id, "") is not None
        assert {path.name for path in tmp_path.iterdir()} >= {"j", "j-wal", "j-shm", "j.sounds", "j.unsaved"}
        assert modes(tmp_path) == {}
    assert stat.S_IMODE((tmp_path / "j").stat().st_mode) == 0o600


def test_unsaved_events_in_the_users_state_are_for_them_alone(tmp_path, umask, monkeypatch):
    monkeypatch.setenv("XDG_STATE_HOME", str(tmp_path / "state"))
    with Journal.in_memory(clock=journals.clock()) as journal:
        journals.log_many(journal, journals.plan(2), 1)
        events = journal.events()
    kept = Unsaved(tmp_path / "gone" / "j")
    kept._places = kept._places[1:]  # as when the journal's own disk is full
    assert kept.keep(events, "", "") is not None
    assert modes(tmp_path) == {}


def test_a_rehearsal_and_what_was_learned_are_for_their_owner_alone(tmp_path, umask, monkeypatch):
    from datetime import datetime

    from handsfree.recordings import ManifestRow

    monkeypatch.setenv("XDG_DATA_HOME", str(tmp_path))
    folder = rehearsal_folder(datetime(2026, 11, 25).astimezone())
    write_row(folder, ManifestRow("01.flac", "me", "chatter", "hello"))
    save_adaptation(Adaptation())
    assert (folder / "manifest.csv").read_text(encoding="utf-8").count("\n") == 2
    assert modes(tmp_path) == {}


def test_saved_phrases_can_be_kept_private(tmp_path, umask):
    make_private_folder(tmp_path / "a" / "b")
    save_wav(tmp_path / "a" / "b" / "x.wav", Sound(np.ones(10, np.int16), 16_000), private=True)
    assert modes(tmp_path) == {}


@pytest.mark.parametrize("read_only", [False, True])
def test_a_journal_of_before_is_mended_on_opening(tmp_path, read_only):
    journals.story_at(tmp_path / "j")
    sounds = Sounds.beside(tmp_path / "j")
    sounds.save(np.ones(160, np.int16))
    (tmp_path / "j.unsaved").write_text("")
    for path in (tmp_path / "j", tmp_path / "j.unsaved", *(tmp_path / "j.sounds").iterdir()):
        path.chmod(0o644)
    (tmp_path / "j.sounds").chmod(0o755)
    with Journal.open(tmp_path / "j", read_only=read_only):
        assert modes(tmp_path) == {}


def test_only_ours_is_mended(tmp_path):
    (tmp_path / "other").write_text("no journal")
    (tmp_path / "other").chmod(0o644)
    (tmp_path / "mine").mkdir(mode=0o755)
    (tmp_path / "mine" / "link").symlink_to("../other")
    mend(tmp_path / "mine")
    with pytest.raises(Exception, match="not a handsfree journal"):
        Journal.open(tmp_path / "other")
    assert stat.S_IMODE((tmp_path / "other").stat().st_mode) == 0o644
    assert stat.S_IMODE((tmp_path / "mine").stat().st_mode) == 0o700
