"""Kept sounds: lossless, named by their content, and never in the way of a reading."""

import numpy as np
import pytest

from handsfree.errors import JournalError
from handsfree.journal import Sounds, flac

pytestmark = pytest.mark.quick


@pytest.fixture
def speech():
    seconds = np.arange(32_000) / 16_000
    return (8000 * np.sin(2 * np.pi * 220 * seconds) * np.sin(np.pi * seconds)).astype(np.int16)


def test_a_sound_comes_back_sample_for_sample_and_takes_less_room(tmp_path, speech):
    sounds = Sounds.beside(tmp_path / "bench.journal")
    name = sounds.save(speech)
    assert np.array_equal(sounds.load(name), speech)
    assert sounds.path(name).parent == tmp_path / "bench.journal.sounds"
    assert sounds.path(name).stat().st_size < speech.nbytes / 1.3
    assert sounds.trust(name) is None


def test_the_same_sound_has_the_same_name_and_is_kept_once(tmp_path, speech):
    sounds = Sounds(tmp_path / "s")
    assert sounds.save(speech) == sounds.save(speech.copy())
    assert len(list((tmp_path / "s").iterdir())) == 1
    assert flac(speech) == flac(speech)


def test_switched_off_nothing_is_written(tmp_path, speech):
    sounds = Sounds(tmp_path / "s", keep=False)
    assert sounds.save(speech) is None
    assert sounds.trouble is None
    assert list(tmp_path.iterdir()) == []


def test_no_samples_give_no_sound(tmp_path):
    assert Sounds(tmp_path / "s").save(np.zeros(0, np.int16)) is None


def test_a_sound_that_cannot_be_kept_says_so_and_costs_nothing_else(tmp_path, speech):
    (tmp_path / "s").write_text("in the way")
    sounds = Sounds(tmp_path / "s")
    assert sounds.save(speech) is None
    assert sounds.trouble.startswith("The sound of this entry couldn't be kept")


@pytest.mark.parametrize("name", ["../j", "/etc/passwd", "", "x.flac", "a" * 64, "A" * 64 + ".flac"])
def test_a_name_that_no_sound_has_is_refused(tmp_path, name):
    with pytest.raises(JournalError, match="is not the name of a kept sound"):
        Sounds(tmp_path).path(name)


def test_an_altered_sound_is_not_played(tmp_path, speech):
    sounds = Sounds(tmp_path / "s")
    name = sounds.save(speech)
    sounds.path(name).write_bytes(flac(speech[::-1]))
    with pytest.raises(JournalError, match="was altered"):
        sounds.load(name)
