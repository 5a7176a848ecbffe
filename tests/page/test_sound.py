"""A page's microphone and loudspeaker, without a browser: whose sound it is, what was lost, when it was."""

import json
import queue
import threading

import numpy as np
import pytest

from handsfree.devices import Frame, MicrophoneFound, MicrophoneLost, NullPlayer, Overflow, SoundPlayer
from handsfree.errors import SoundError
from handsfree.page.sound import PageLine, PageSound, StreamClock
from handsfree.speak import Sound

pytestmark = pytest.mark.quick

RATE_HZ = 16_000
PIECE = np.arange(512, dtype="<i2").tobytes()


class Page:
    """A page that plays what it is sent, in no time, unless it hangs."""

    def __init__(self, name="tablet", hangs=False):
        self.sent = []
        self.line = PageLine(self.take, RATE_HZ, 48_000, name, clock=lambda: 100.0)
        self._hangs = hangs

    def take(self, data):
        header, _, payload = data.partition(b"\n")
        form = json.loads(header)
        self.sent.append((form, payload))
        if self._hangs or "wake" in form or "stop" in form:
            return
        if "play" in form:
            self.number = form["play"]
            self.line.answered({"began": self.number, "in_s": 0.02})
        if not form.get("more") or "play" not in form:
            self.line.answered({"ended": self.number, "in_s": 1.5, "whole": True})


@pytest.fixture
def events():
    return queue.SimpleQueue()


@pytest.fixture
def sound(events):
    return PageSound(events.put, NullPlayer(), 0.5)


def taken(events):
    found = []
    while not events.empty():
        found.append(events.get())
    return found


def kinds(events):
    return [type(each) for each in taken(events)]


# ---- the clock


def test_times_of_capture_come_from_the_count_of_samples_and_the_quickest_piece():
    clock, draw = StreamClock(RATE_HZ), np.random.default_rng(3)
    true = np.arange(1, 400) * 0.032 + 50
    late = draw.gamma(1.5, 0.02, len(true))
    late[40] = 0.001
    found = [clock.captured(512, at + by) for at, by in zip(true, late, strict=True)]
    errors = np.abs(np.array(found) - true)[60:]
    assert errors.max() < 0.02
    assert np.abs(late[60:]).max() > 0.1  # which the times of arrival don't give


def test_a_page_that_stood_still_gets_a_new_clock():
    clock = StreamClock(RATE_HZ)
    assert clock.captured(512, 10.0) == 10.0
    assert clock.captured(512, 15.0) == 15.0


# ---- the microphone


def test_sound_of_the_page_reaches_the_bench_at_its_rate(sound, events):
    page = Page()
    sound.take("a", page.line)
    for number in range(3):
        sound.heard(page.line, number, PIECE)
    found = taken(events)
    assert [type(each) for each in found] == [Overflow, MicrophoneFound, Frame, Frame, Frame]
    assert found[1] == MicrophoneFound("tablet", RATE_HZ, again=False)
    assert found[2].samples.tolist() == list(range(512))


def test_a_missing_number_is_sound_that_was_lost(sound, events):
    page = Page()
    sound.take("a", page.line)
    for number in (0, 2, 3):
        sound.heard(page.line, number, PIECE)
    assert kinds(events)[2:] == [Frame, Overflow, Frame, Frame]


def test_half_a_sample_is_left_out(sound, events):
    page = Page()
    sound.take("a", page.line)
    sound.heard(page.line, 0, PIECE + b"\x01")
    assert len(taken(events)[-1].samples) == 512


def test_a_lost_connection_is_told_and_so_is_its_return(sound, events):
    page, again = Page(), Page()
    sound.take("a", page.line)
    sound.lost(page.line, "the connection to the page was lost")
    sound.heard(page.line, 1, PIECE)
    sound.take("a", again.line)
    found = taken(events)[2:]
    assert found == [
        MicrophoneLost("the connection to the page was lost"),
        Overflow(),
        MicrophoneFound("tablet", RATE_HZ, again=True),
    ]


def test_one_page_at_a_time_and_the_former_ones_end_says_nothing(sound, events):
    first, second = Page("first"), Page("second")
    sound.take("a", first.line)
    sound.take("b", second.line)
    assert first.line.closed.is_set()
    sound.heard(first.line, 0, PIECE)
    sound.lost(first.line, "the connection to the page was lost")
    assert sound.holder == "b"
    assert kinds(events) == [Overflow, MicrophoneFound] * 2


def test_this_machines_microphone_is_shut_while_a_page_has_the_ears(sound, events):
    here, page = MicrophoneFound("cup", 48_000, again=False), Page()
    sound.from_here(here)
    sound.take("a", page.line)
    sound.from_here(Frame(np.zeros(512, np.int16), 1.0))
    sound.lost(page.line, "gone")
    sound.from_here(Frame(np.zeros(512, np.int16), 2.0))  # it stays shut: nobody gave it back
    sound.give_back()
    sound.from_here(Frame(np.zeros(512, np.int16), 3.0))
    found = taken(events)
    assert [type(each) for each in found][:4] == [MicrophoneFound, Overflow, MicrophoneFound, MicrophoneLost]
    assert found[4:6] == [Overflow(), here]
    assert [each.at_s for each in found if isinstance(each, Frame)] == [3.0]


def test_without_a_microphone_here_giving_back_leaves_none(sound, events):
    sound.take("a", Page().line)
    sound.give_back()
    sound.give_back()
    assert kinds(events) == [Overflow, MicrophoneFound, Overflow, MicrophoneLost]


# ---- the loudspeaker


def tone_of(seconds):
    return Sound(np.full(round(seconds * 22_050), 1000, np.int16), 22_050)


def test_an_answer_is_played_on_the_page_at_its_rate_and_volume(sound):
    page = Page()
    sound.take("a", page.line)
    played = sound.play(tone_of(0.1), then=lambda: tone_of(0.2))
    assert (played.began_at, played.ended_at, played.whole) == (100.02, 101.5, True)
    (first, head), (rest, words) = page.sent
    assert (first, rest) == ({"play": 1, "more": True}, {"more": 1})
    assert len(head) // 2 == pytest.approx(4_800, abs=2)
    assert len(words) // 2 == pytest.approx(9_600, abs=2)
    assert np.median(np.frombuffer(words, "<i2")) == pytest.approx(500, abs=2)


def test_louder_and_quieter_hold_for_the_next_page_too(sound):
    sound.take("a", Page().line)
    sound.turn(0.5)
    sound.take("b", (page := Page()).line)
    sound.play(tone_of(0.1))
    assert sound.volume == 0.25
    assert np.median(np.frombuffer(page.sent[0][1], "<i2")) == pytest.approx(250, abs=2)


def test_a_page_that_is_lost_in_mid_answer_costs_that_answer(sound):
    page = Page(hangs=True)
    sound.take("a", page.line)
    threading.Timer(0.1, lambda: sound.lost(page.line, "gone")).start()
    with pytest.raises(SoundError, match="no sound: the connection to the page was lost"):
        sound.play(tone_of(0.1))
    assert sound.play(tone_of(0.1)).whole  # here, until it comes back
    sound.take("a", (again := Page()).line)
    sound.play(tone_of(0.1))
    assert again.sent


def test_a_page_that_hangs_is_given_up():
    page = Page(hangs=True)
    player = SoundPlayer(connect=lambda: page.line, grace_s=0.05)
    with pytest.raises(SoundError, match="no sound: it takes no sound"):
        player.play(tone_of(0.1))
    assert page.line.closed.is_set()


@pytest.mark.parametrize(
    "form",
    [{}, {"began": "1", "in_s": 0}, {"began": 1}, {"began": 1, "in_s": "x"}, {"ended": 1, "in_s": 1e9}],
)
def test_what_is_no_answer_is_passed_over(form):
    page = Page(hangs=True)
    page.line.receive(0)
    page.line.answered(form)
    page.line.answered({"began": 1, "in_s": 0.5})
    assert page.line.receive(0) == ({"began": 1, "at": 100.5, "whole": False}, b"")
