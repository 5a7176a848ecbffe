"""What `handsfree journal play` plays, prints and saves."""

import io

import numpy as np
import pytest
from rich.console import Console

from handsfree.commands.journal import play
from handsfree.devices import NullPlayer
from handsfree.errors import JournalError
from handsfree.journal import Draft, Heard, Journal, Kind, Sounds
from handsfree.length import length
from handsfree.session import opening
from tests.support import journals


@pytest.fixture
def console():
    return Console(file=io.StringIO(), width=150, no_color=True)


class Listening(NullPlayer):
    """Remembers what it was given."""

    def __init__(self):
        self.played = []

    def play(self, sound, label=""):
        self.played.append((sound, label))
        return super().play(sound, label)


def test_play_prints_what_was_heard_and_can_save_the_sound(tmp_path, console):
    path = tmp_path / "j"
    name = Sounds.beside(path).save(np.arange(16_000, dtype=np.int16))
    plan = journals.plan()
    with Journal.open(path) as journal:
        journal.append(opening(plan))
        heard = Heard("voice", "three top eighteen", sound=name)
        journals.measure(journal, plan, plan.checks[0].positions[0], "18", heard=heard)
        journal.append(Draft(Kind.STAND_BY))
    play(path, 2, console, NullPlayer(), out=tmp_path / "out.flac")
    assert "heard: three top eighteen" in console.file.getvalue()
    assert "logged: cylinder 1, ring top: 18 thou" in console.file.getvalue()
    assert (tmp_path / "out.flac").read_bytes()[:4] == b"fLaC"
    with pytest.raises(JournalError, match="No sound was kept of event 3"):
        play(path, 3, console, NullPlayer())
    with pytest.raises(JournalError, match="has no event 9; its last is 3"):
        play(path, 9, console, NullPlayer())


def test_play_plays_the_very_samples(tmp_path, console):
    path = tmp_path / "j"
    samples = np.arange(-500, 500, dtype=np.int16)
    name = Sounds.beside(path).save(samples)
    plan = journals.plan()
    with Journal.open(path) as journal:
        journal.append(opening(plan))
        journal.append(Draft(Kind.READING, heard=Heard("voice", "eighteen", sound=name)))
    player = Listening()
    play(path, 2, console, player)
    ((sound, _),) = player.played
    assert np.array_equal(sound.samples, samples)
    assert sound.samplerate_hz == 16_000


def asked_and_settled(path, answer):
    """Log a size that was asked about and then settled by `answer`; gives the sound in which it was said."""
    sounds = Sounds.beside(path)
    doubtful = np.arange(300, dtype=np.int16)
    plan = journals.plan()
    place = plan.checks[0].positions[0]
    with Journal.open(path) as journal:
        journal.append(opening(plan))
        form = {"kind": "reading", "value": "18.5", "unit": "thou"}
        asked = Heard("voice", "eighteen five", sound=sounds.save(doubtful))
        journal.append(
            Draft(
                Kind.ASKED, "ring gaps", place, heard=asked, data={"about": "reading", "candidates": [form]}
            )
        )
        journal.append(Draft(Kind.READING, "ring gaps", place, length("18.5"), heard=answer(sounds)))
        journal.append(Draft(Kind.READING, "ring gaps", place, length("19"), heard=answer(sounds)))
    return doubtful


def test_of_a_size_that_was_asked_about_both_sounds_are_played(tmp_path, console):
    path, yes = tmp_path / "j", np.arange(200, dtype=np.int16)
    doubtful = asked_and_settled(path, lambda sounds: Heard("voice", "affirm", sound=sounds.save(yes)))
    player = Listening()
    play(path, 3, console, player)
    assert [list(sound.samples) for sound, _ in player.played] == [list(doubtful), list(yes)]
    assert [label for _, label in player.played] == ["eighteen five", "affirm"]
    player = Listening()
    play(path, 4, console, player)  # the question was settled by then
    assert [label for _, label in player.played] == ["affirm"]


def test_of_a_size_that_was_settled_by_key_what_was_said_before_is_played_and_saved(tmp_path, console):
    path = tmp_path / "j"
    asked_and_settled(path, lambda _: Heard("keypad", "+"))
    player = Listening()
    play(path, 3, console, player, out=tmp_path / "said.flac")
    assert [label for _, label in player.played] == ["eighteen five"]
    assert (tmp_path / "said.flac").stat().st_size > 0
    with pytest.raises(JournalError, match="No sound was kept of event 4"):
        play(path, 4, console, player)
