"""The mouth: answers one after the other, faults told, ticks that never get in the way."""

import queue

import numpy as np
import pytest

from handsfree.devices import Played, SoundPlayer
from handsfree.errors import SoundError, VoiceError
from handsfree.live import Mouth
from handsfree.speak import CachedVoice, EngineVoice, Reply, Sound, Tone, VoiceChange, tone

pytestmark = pytest.mark.quick


class Player:
    def __init__(self):
        self.labels = []
        self.lengths = []
        self.rests = []
        self.events = []
        self.broken = False
        self.stops = self.wakes = 0

    def play(self, sound, label="", then=None):
        if self.broken:
            raise SoundError("no sound: unplugged")
        self.labels.append(label)
        self.lengths.append(len(sound.samples))
        if then is not None:
            self.events.append("playing")
            self.rests.append(len(then().samples))
        return Played(1.0, 2.0, True)

    def wake(self):
        self.wakes += 1

    def stop(self):
        self.stops += 1

    def close(self):
        pass


class Settable(Player):
    volume = 1.0

    def turn(self, factor):
        self.volume *= factor


class Voice:
    signature = "fake"

    def __init__(self, events):
        self.broken = False
        self.events = events

    def render(self, _):
        self.events.append("rendering")
        if self.broken:
            raise VoiceError("the voice failed")
        return Sound(np.ones(1_000, dtype=np.int16), 22_050)

    def close(self):
        pass


@pytest.fixture
def mouth():
    player, heard = Player(), queue.Queue()
    voice = Voice(player.events)
    made = Mouth(voice, player, heard.put)
    yield made, voice, player, heard
    made.close()


def test_answers_are_said_in_order_and_each_is_reported(mouth):
    made, _, player, heard = mouth
    for text in ("one", "two", "three"):
        made.say(Reply(text, tone=Tone.NOTE))
    spoken = [heard.get(timeout=60) for _ in range(3)]
    assert [each.reply.text for each in spoken] == player.labels == ["one", "two", "three"]
    assert all(each.played == Played(1.0, 2.0, True) for each in spoken)


def test_broken_voice_leaves_the_tone_and_is_reported(mouth):
    made, voice, player, heard = mouth
    voice.broken = True
    made.say(Reply("one", tone=Tone.OVER))
    spoken = heard.get(timeout=60)
    assert spoken.voice_fault == "the voice failed"
    assert spoken.sound_fault is None
    assert player.lengths[0] > 1_000
    assert player.rests == [0]


def test_the_tone_is_played_before_the_words_are_made(mouth):
    made, _, player, heard = mouth
    made.say(Reply("one", tone=Tone.SHORT))
    heard.get(timeout=60)
    assert player.events == ["playing", "rendering"]
    assert player.lengths == [len(tone(Tone.SHORT).samples)]
    assert player.rests[0] > 1_000  # the words, and a breath before them


def test_without_a_tone_the_words_are_all(mouth):
    made, _, player, heard = mouth
    made.say(Reply("one"))
    heard.get(timeout=60)
    assert player.lengths == [1_000]
    assert player.rests == []


def test_broken_loudspeaker_is_reported_and_the_next_answer_is_tried(mouth):
    made, _, player, heard = mouth
    player.broken = True
    made.say(Reply("one"))
    assert heard.get(timeout=60).sound_fault == "no sound: unplugged"
    player.broken = False
    made.say(Reply("two"))
    assert heard.get(timeout=60).played is not None


def test_tick_is_played_and_not_reported(mouth):
    made, _, player, heard = mouth
    made.tick()
    made.say(Reply("one"))
    assert heard.get(timeout=60).reply.text == "one"
    assert player.labels == ["", "one"]
    player.broken = True
    made.tick()  # and a tick that can't be heard is no trouble


def test_hush_and_wake_reach_the_player(mouth):
    made, _, player, _ = mouth
    made.wake()
    made.hush()
    assert (player.wakes, player.stops) == (1, 1)


def test_a_tick_after_the_words_says_that_it_listens_again_unless_more_is_said():
    player, heard = Player(), queue.SimpleQueue()
    plain, cued = Mouth(Voice([]), player, heard.put), Mouth(Voice([]), player, heard.put, cue=True)
    try:
        for mouth in (plain, cued):
            mouth.say(Reply("Eighteen, good.", tone=Tone.GOOD))
            heard.get(timeout=60)
        assert player.rests[1] - player.rests[0] > len(tone(Tone.OPEN).samples)
    finally:
        plain.close()
        cued.close()


class Paced(Voice):
    rate = 100.0

    def pace(self, factor):
        self.rate *= factor


@pytest.mark.parametrize("change", list(VoiceChange))
def test_the_voice_changes_before_it_says_so(change):
    spoken, player = queue.SimpleQueue(), Settable()
    voice = Paced(player.events)
    mouth = Mouth(voice, player, spoken.put)
    mouth.say(Reply("So.", change=change))
    spoken.get(timeout=60)
    mouth.close()
    louder, faster = change is VoiceChange.LOUDER, change is VoiceChange.FASTER
    of_volume = change in (VoiceChange.LOUDER, VoiceChange.QUIETER)
    assert (player.volume != 1, player.volume > 1) == (of_volume, louder)
    assert (voice.rate != 100, voice.rate > 100) == (not of_volume, faster)


def test_a_voice_that_has_no_pace_says_so_as_it_is():
    spoken, player = queue.SimpleQueue(), Player()
    mouth = Mouth(Voice(player.events), player, spoken.put)
    for change in VoiceChange:
        mouth.say(Reply("So.", change=change))
        assert spoken.get(timeout=60).voice_fault is None
    mouth.close()


def test_rate_and_volume_stay_within_bounds():
    voice, player = EngineVoice(), SoundPlayer(volume=0.5)
    for _ in range(40):
        CachedVoice(voice).pace(1.2)
        player.turn(1.5)
    assert (voice.settings.words_per_minute, player._volume) == (300, 1.0)
    for _ in range(40):
        CachedVoice(voice).pace(1 / 1.2)
        player.turn(1 / 1.5)
    assert (voice.settings.words_per_minute, player._volume) == (100, 0.1)
    silent = SoundPlayer(volume=0)
    silent.turn(1.5)
    assert silent._volume == 0  # who chose silence keeps it
