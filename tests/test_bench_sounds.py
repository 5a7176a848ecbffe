"""Which sounds the loop keeps: those of sizes and of what settled them, and nobody's chatter."""

from __future__ import annotations

import numpy as np
import pytest

from handsfree.bench import Bench
from handsfree.hear import Utterance
from handsfree.journal import Journal, Kind, Sounds, verify
from tests.dialogue.talk import Clock, plan_of_three_checks
from tests.test_bench import FakeEars, Parrot

pytestmark = pytest.mark.quick


def utterance(number):
    """Give a sound unlike the others."""
    return Utterance(np.full(1000, number, np.int16), 0.0, 1.0)


class Room:
    """A bench whose sounds are kept, and what was said to it."""

    def __init__(self, folder, plan, *, keep=True):
        self.path = folder / "j"
        self.sounds = Sounds.beside(self.path, keep=keep)
        self.parrot = Parrot()
        self.journal = Journal.open(self.path, clock=Clock())
        self.bench = Bench(plan, self.journal, FakeEars(plan, self.parrot), sounds=self.sounds)
        self.bench.open()
        self.count = 0

    def say(self, words, **more):
        for name, value in {"fit": -0.1, "margin": 9.0, "rivals": (), **more}.items():
            setattr(self.parrot, name, value)
        self.parrot.words = words
        self.count += 1
        return self.bench.hear(utterance(self.count))

    @property
    def kept(self):
        folder = self.path.with_name("j.sounds")
        return sorted(each.name for each in folder.iterdir()) if folder.exists() else []


@pytest.fixture
def room(tmp_path):
    room = Room(tmp_path, plan_of_three_checks())
    yield room
    room.journal.close()


def test_the_sound_of_a_size_is_kept_and_named_by_its_event(room):
    (event, *_) = room.say("fifteen").events
    assert room.kept == [event.draft.heard.sound]
    assert np.array_equal(room.sounds.load(event.draft.heard.sound), utterance(1).samples)
    assert verify(room.path).holds


def test_chatter_moves_and_procedure_words_leave_no_sound(room):
    room.say("fifteen", fit=-9.0)
    room.say("cylinder two top")
    room.say("read back")
    room.say("what's left")
    assert room.kept == []


def test_a_doubtful_size_and_the_answer_to_the_question_are_kept(room):
    (asked,) = room.say("eighteen five").events
    assert asked.kind is Kind.ASKED
    reading = room.say("affirm").events[0]
    assert reading.kind is Kind.READING
    assert room.kept == sorted([asked.draft.heard.sound, reading.draft.heard.sound])


def test_a_size_that_is_not_logged_leaves_no_sound(room):
    room.say("stand by")
    assert room.say("nineteen").events == ()
    room.say("go ahead")
    assert room.kept == []


def test_what_is_not_logged_takes_no_sound_that_was_kept_before(room):
    (event, *_) = room.say("fifteen").events
    room.say("stand by")
    room.count = 0  # the very same sound
    room.say("fifteen")
    assert room.kept == [event.draft.heard.sound]


def test_switched_off_or_without_a_folder_nothing_is_kept(tmp_path):
    room = Room(tmp_path, plan_of_three_checks(), keep=False)
    (event, *_) = room.say("fifteen").events
    assert event.draft.heard.sound is None
    assert room.kept == []
    room.journal.close()


def test_a_sound_that_cannot_be_kept_is_told_once_and_costs_no_reading(room):
    room.path.with_name("j.sounds").write_text("in the way")
    first, second = room.say("fifteen"), room.say("sixteen")
    assert [exchange.events[0].kind for exchange in (first, second)] == [Kind.READING, Kind.READING]
    assert "The sound of this entry couldn't be kept" in first.reply.text
    assert "sound of this entry" not in first.reply.aloud
    assert "sound of this entry" not in second.reply.text
    room.path.with_name("j.sounds").unlink()
    assert room.say("seventeen").events[0].draft.heard.sound is not None


def test_who_goes_on_stands_in_the_journal_too(tmp_path):
    plan = plan_of_three_checks()
    with Journal.open(tmp_path / "j", clock=Clock()) as journal:
        Bench(plan, journal).open(who="A. Fitter")
        (resumed,) = Bench(plan, journal).open(who="B. Turner").events
    assert resumed.draft.data == {"who": "B. Turner"}
