"""Players: nowhere, into a folder, and through a child process that may misbehave."""

import sys
import textwrap
import threading
import time
import wave

import numpy as np
import pytest

from handsfree.devices import FolderPlayer, NullPlayer, SoundPlayer
from handsfree.devices.loudspeaker_child import Feed
from handsfree.errors import SoundError
from handsfree.speak import Sound, Tone, tone

BEEP = tone(Tone.SHORT)
RATE = 8_000


def test_null_player_takes_no_time():
    played = NullPlayer().play(BEEP)
    assert played.whole
    assert played.began_at == played.ended_at


def test_folder_player_numbers_its_files_and_names_them_by_their_words(tmp_path):
    player = FolderPlayer(tmp_path / "said" / "here")
    player.play(BEEP, "Three top, eighteen. File two.")
    player.play(Sound(BEEP.samples[:0], 22_050), "nothing")
    player.play(BEEP, "Don't file; try it in another bore, or replace it if you must.")
    player.play(BEEP)
    names = sorted(path.name for path in (tmp_path / "said" / "here").iterdir())
    assert names == [
        "001-three-top-eighteen-file-two.wav",
        "002-dont-file-try-it-in-another-bore-or.wav",
        "003.wav",
    ]
    with wave.open(str(tmp_path / "said" / "here" / names[0])) as file:
        assert file.readframes(100_000) == BEEP.samples.tobytes()


def test_folder_player_saves_what_follows_in_the_same_file(tmp_path):
    player = FolderPlayer(tmp_path)
    player.play(BEEP, "whole", lambda: BEEP)
    player.play(BEEP, "alone", lambda: Sound(BEEP.samples[:0], 16_000))
    for name, times in (("001-whole.wav", 2), ("002-alone.wav", 1)):
        with wave.open(str(tmp_path / name)) as file:
            assert file.readframes(100_000) == BEEP.samples.tobytes() * times


def test_folder_that_cant_be_made_is_one_sentence(tmp_path):
    (tmp_path / "file").write_text("in the way")
    with pytest.raises(SoundError, match="can't make the folder"):
        FolderPlayer(tmp_path / "file" / "said")


@pytest.mark.parametrize("volume", [-0.1, 1.01, 5])
def test_volume_beyond_full_is_refused(volume):
    with pytest.raises(SoundError, match="volume from 0 to 1"):
        SoundPlayer(volume=volume)


# ---- the child that owns the device


def fake(tmp_path, body, **options):
    """A player whose child is a script of our own; `body` answers one request to play."""
    script = tmp_path / "speaker.py"
    script.write_text(
        textwrap.dedent(
            f"""
            import os, sys, time
            from handsfree.child import Parent
            starts = os.path.join(os.path.dirname(__file__), "starts")
            with open(starts, "a") as file:
                file.write("x")
            start = os.path.getsize(starts)
            parent = Parent()
            def well(n, samples, whole=True):
                open(os.path.join(os.path.dirname(__file__), "heard"), "wb").write(samples)
                parent.send({{"began": n, "at": 1.0}})
                parent.send({{"ended": n, "at": 2.0, "whole": whole}})
            if start > {options.pop("greets_from", 0)}:
                parent.send({{"ready": {RATE}, "device": "fake"}})
            while message := parent.receive():
                n, samples = message[0].get("play"), message[1]
                if n is None:
                    continue
            """
        )
        + textwrap.indent(textwrap.dedent(body), "    "),
        encoding="utf-8",
    )
    return SoundPlayer(command=[sys.executable, str(script)], **options)


def test_sound_reaches_the_device_at_its_rate_and_below_the_volume_cap(tmp_path):
    with fake(tmp_path, "well(n, samples)", volume=0.5) as player:
        played = player.play(BEEP)
        assert (played, player.device) == ((1.0, 2.0, True), "fake")
    heard = np.frombuffer((tmp_path / "heard").read_bytes(), dtype="<i2")
    assert len(heard) / RATE == pytest.approx(BEEP.duration_s, abs=0.001)
    loudest = np.abs(BEEP.samples.astype(int)).max()
    assert np.abs(heard.astype(int)).max() == pytest.approx(0.5 * loudest, rel=0.05)


def test_full_scale_sound_is_never_louder_than_the_volume(tmp_path):
    square = Sound(np.where(np.arange(RATE) % 40 < 20, 32_767, -32_768).astype(np.int16), RATE)
    with fake(tmp_path, "well(n, samples)", volume=0.25) as player:
        player.play(square)
    heard = np.frombuffer((tmp_path / "heard").read_bytes(), dtype="<i2").astype(int)
    assert np.abs(heard).max() == 8_192


def test_blocked_device_costs_one_answer(tmp_path):
    body = "time.sleep(60) if start == 1 else well(n, samples)"
    with fake(tmp_path, body, grace_s=0.2) as player:
        with pytest.raises(SoundError, match="it takes no sound; check the loudspeaker"):
            player.play(BEEP)
        player._grace_s = 10
        assert player.play(BEEP).whole


def test_device_that_fails_in_mid_sentence_costs_one_answer(tmp_path):
    body = """
    if start > 1:
        well(n, samples)
    else:
        parent.send({"began": n, "at": 1.0})
        parent.send({"error": "device unplugged"})
        sys.exit(1)
    """
    with fake(tmp_path, body) as player:
        with pytest.raises(SoundError, match="device unplugged"):
            player.play(BEEP)
        assert player.play(BEEP).whole


def test_no_device_is_one_sentence_each_time_and_sound_returns_with_it(tmp_path):
    with fake(tmp_path, "well(n, samples)", greets_from=2, start_timeout_s=0.3) as player:
        for _ in range(2):
            with pytest.raises(SoundError):
                player.play(BEEP)
        player._start_timeout_s = 10
        assert player.play(BEEP).whole


def test_stop_cuts_off_in_mid_sentence(tmp_path):
    body = """
    parent.send({"began": n, "at": 1.0})
    header, _ = parent.receive()
    parent.send({"ended": n, "at": 1.5, "whole": "stop" not in header})
    """
    with fake(tmp_path, body, grace_s=20) as player:
        stopper = threading.Thread(target=lambda: (time.sleep(0.5), player.stop()))
        stopper.start()
        assert player.play(BEEP) == (1.0, 1.5, False)
        stopper.join()


def test_stop_and_wake_are_harmless_when_nothing_is_open(tmp_path):
    player = fake(tmp_path, "well(n, samples)")
    player.stop()
    player.wake()
    player.close()
    assert not (tmp_path / "starts").exists()


# ---- what the device is fed


def fill(feed, blocks, size=200):
    """Pull blocks as PortAudio would, each heard 0.01 s after the one before."""
    out = bytearray()
    for block in range(blocks):
        part = bytearray(size)
        feed.fill(part, 100 + block * size / 2 / RATE)
        out += part
    return bytes(out)


def test_feed_gives_every_sample_once_then_silence():
    samples = np.arange(1, 501, dtype="<i2").tobytes()
    feed = Feed(samples, RATE)
    out = fill(feed, 10)
    assert out[: len(samples)] == samples
    assert not any(out[len(samples) :])
    assert feed.whole
    assert feed.began_at == 100
    assert feed.ended_at == pytest.approx(100 + 500 / RATE)


def test_feed_for_a_cold_stream_begins_with_silence_and_says_when_sound_begins():
    feed = Feed(b"\x01\x01" * 100, RATE, lead_s=0.03)
    out = fill(feed, 10)
    assert out.index(b"\x01") == 2 * round(0.03 * RATE)
    assert feed.began_at == pytest.approx(100.03)
    assert feed.ended_at == pytest.approx(100.03 + 100 / RATE)


def test_cut_feed_is_silent_from_the_next_block():
    feed = Feed(b"\x01\x01" * 1_000, RATE)
    first = fill(feed, 1)
    feed.cut = True
    assert b"\0" not in first
    assert not any(fill(feed, 3))
    assert not feed.whole
    assert feed.done.is_set()


def test_an_answer_has_ended_only_when_the_device_has_played_all_of_it(monkeypatch):
    """On a busy machine that is later than what it said when it took the last sample."""
    from handsfree.devices import loudspeaker_child as loudspeaker

    sent = []

    class Parent:
        def send(self, header, _=b""):
            sent.append(header)

        def receive(self, _):
            return None

    class Late:
        def play(self, samples, *, unfinished):
            feed = Feed(samples, RATE, unfinished=unfinished)
            feed.fill(memoryview(bytearray(8_000)), time.monotonic())
            return feed

        def rest(self):
            time.sleep(0.7)  # what PortAudio does until all has been heard

    before = time.monotonic()
    loudspeaker.play(Parent(), Late(), 1, bytes(2 * 800), unfinished=False)
    [began, ended] = sent
    assert began["began"] == ended["ended"] == 1
    assert ended["at"] > before + 0.6
