"""The real player through PortAudio and a real sound server, recorded on the loudspeaker's side."""

import threading
import time

import numpy as np
import pytest

from handsfree.devices import SoundPlayer
from handsfree.errors import SoundError
from handsfree.speak import Sound, Tone, tone
from tests.support.room import RATE_HZ, Room, available, spans

pytestmark = pytest.mark.skipif(not available(), reason="no PulseAudio here")

MARKS = 20


def marked() -> Sound:
    """Forty clicks a second, each louder than the one before: any loss or repetition shows."""
    samples = np.zeros(22_050 // 2, dtype=np.int16)
    for mark in range(MARKS):
        start = mark * len(samples) // MARKS
        samples[start : start + 30] = 4_000 + 1_000 * mark
    return Sound(samples, 22_050)


@pytest.fixture
def room(monkeypatch):
    with Room() as server:
        for name, value in server.env.items():
            monkeypatch.setenv(name, value)
        yield server


def test_every_sample_is_heard_whether_or_not_the_stream_was_awake(room):
    """A busy machine's room may drop a piece now and then; a player that loses some loses it each time."""
    lengths = []
    for _ in range(3):
        with SoundPlayer(volume=1) as player, room.recording() as both:
            player.play(marked())
            player.wake()
            time.sleep(0.3)
            player.play(marked())
        heard, played = both.sides
        assert not heard.any()
        found = spans(played, RATE_HZ, floor=1_500, gap_s=0.1)
        lengths.append([end - start for start, end in found])
        if lengths[-1] == pytest.approx([0.5 * (MARKS - 1) / MARKS] * 2, abs=0.005):
            return
    pytest.fail(f"lengths heard, in seconds: {lengths}")


def test_what_follows_is_heard_without_a_gap_and_where_it_is_late_after_silence(room):
    """As above, a busy room may drop a piece by itself."""
    half = Sound(marked().samples[: len(marked().samples) // 2], marked().samplerate_hz)

    def late():
        time.sleep(0.8)
        return half

    after_last = 0.5 / MARKS  # silence that follows each click
    wanted = [each - after_last for each in (2 * half.duration_s, half.duration_s, half.duration_s)]
    lengths = []
    for _ in range(3):
        with SoundPlayer(volume=1) as player, room.recording() as both:
            assert player.play(half, then=lambda: half).whole
            player.wake()
            time.sleep(0.3)
            assert player.play(half, then=late).whole
        _, played = both.sides
        found = spans(played, RATE_HZ, floor=1_500, gap_s=0.1)
        lengths.append([end - start for start, end in found])
        if lengths[-1] == pytest.approx(wanted, abs=0.005):
            return
    pytest.fail(f"lengths heard, in seconds: {lengths}; wanted {wanted}")


def test_a_sound_that_is_stopped_while_its_rest_is_made_ends_and_the_next_is_heard(room):
    rest = Sound(np.tile(tone(Tone.SHORT).samples, 20), 22_050)

    def slow():
        player.stop()
        time.sleep(0.4)
        return rest

    with SoundPlayer() as player, room.recording() as both:
        assert not player.play(tone(Tone.OVER), then=slow).whole
        assert player.play(tone(Tone.GOOD), then=lambda: tone(Tone.TICK)).whole
    _, played = both.sides
    assert sum(end - start for start, end in spans(played, RATE_HZ)) < 1.5


def test_stop_is_heard_at_once(room):
    long = Sound(np.tile(tone(Tone.SHORT).samples, 20), 22_050)
    with SoundPlayer() as player, room.recording() as both:
        player.play(tone(Tone.TICK))
        threading.Timer(0.5, player.stop).start()
        assert not player.play(long).whole
    _, played = both.sides
    assert sum(end - start for start, end in spans(played, RATE_HZ)) < 1


def test_sound_returns_by_itself_after_the_server_was_killed(room):
    with SoundPlayer() as player:
        assert player.play(tone(Tone.GOOD)).whole
        room.stop()
        with pytest.raises(SoundError, match="watch the display"):
            player.play(tone(Tone.GOOD))
        room.start()
        answers = []
        for _ in range(3):  # a process that opened while the server was starting may be lost too
            try:
                answers.append(player.play(tone(Tone.GOOD)).whole)
            except SoundError:
                answers.append(False)
        assert answers[-1]


def test_sound_returns_by_itself_after_the_loudspeaker_was_unplugged(room):
    with SoundPlayer(grace_s=0.5) as player:
        player.play(tone(Tone.GOOD))
        room.unplug("speaker")
        for _ in range(2):
            with pytest.raises(SoundError, match="no sound"):
                player.play(tone(Tone.GOOD))
        room.plug_in_speaker()
        with room.recording() as both:
            assert player.play(tone(Tone.GOOD)).whole
        assert spans(both.sides[1], RATE_HZ)
