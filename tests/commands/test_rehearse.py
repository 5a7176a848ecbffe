"""`handsfree rehearse`: from files, from a microphone of the test's own, and at a terminal in a room."""

from __future__ import annotations

import argparse
import csv
import json
import os
import pty
import select
import shutil
import signal
import subprocess
import sys
import textwrap
import time
from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest

from handsfree.adapt import phrases_to_read
from handsfree.commands.rehearse import _read_aloud
from handsfree.ears import Ear
from handsfree.errors import SoundError
from handsfree.hear import read_sound
from handsfree.hear.sound import write_wav
from handsfree.live import Take, Takes, Trouble, trouble_with
from handsfree.planfile import load_plan
from handsfree.recordings import judge_row, read_manifest
from handsfree.understand import listen_for
from tests.support.program import PLAN, RECORDINGS, ROOT, handsfree, objects, refusal
from tests.support.room import Room, available
from tests.support.room import write_wav as write_wav_at

FIXTURES = ROOT / "audio_fixtures"
COLUMNS = "file,voice,kind,text,cylinder,ring,value,unit\n"


@pytest.fixture
def elsewhere(tmp_path: Path) -> Path:
    """A folder as somebody who recorded elsewhere has it: one right, one misread, one mute."""
    folder = tmp_path / "elsewhere"
    folder.mkdir()
    shutil.copy(RECORDINGS / "01-michael.ogg", folder / "a.ogg")
    shutil.copy(RECORDINGS / "02-michael.ogg", folder / "b.ogg")
    write_wav(folder / "c.wav", np.zeros(16_000, np.int16))
    (folder / "manifest.csv").write_text(
        f'{COLUMNS}a.ogg,ann,reading,"cylinder one top, fourteen and a half thou",1,top,14.5,thou\n'
        "b.ogg,ann,bare,sixty thou,,,60,thou\nc.wav,ann,word,next,,,,\n",
        encoding="utf-8",
    )
    return folder


def test_files_are_heard_kept_and_scored_and_confused_words_are_named(
    elsewhere: Path, tmp_path: Path
) -> None:
    done = handsfree("rehearse", PLAN, "--from", elsewhere, cwd=tmp_path)
    assert done.returncode == 0, done.stderr
    assert "heard: cylinder one top fourteen and a half thou   right" in done.stdout
    assert "heard: sixteen thou   WRONG" in done.stdout
    assert "Nothing was heard." in done.stdout
    assert "Phrases: 3. Taken right 1, wrong 1, would be asked about 0, not understood 1." in done.stdout
    assert "  sixty was heard as sixteen" in done.stdout
    (kept,) = (tmp_path / "data" / "handsfree" / "rehearsals").iterdir()
    assert f"Kept in {kept}" in done.stdout
    assert sorted(path.name for path in kept.iterdir()) == [
        "01.flac", "02.flac", "03.flac", "manifest.csv", "plan.toml", "score.json",
    ]  # fmt: skip
    rows = read_manifest(kept)
    assert [(row.file, row.text) for row in rows] == [
        ("01.flac", "cylinder one top, fourteen and a half thou"),
        ("02.flac", "sixty thou"), ("03.flac", "next"),
    ]  # fmt: skip
    assert rows[0].expected() == read_manifest(elsewhere)[0].expected()
    assert np.array_equal(read_sound(kept / "01.flac"), read_sound(elsewhere / "a.ogg"))
    score = json.loads((kept / "score.json").read_text(encoding="utf-8"))
    assert score["commands"]["right"] == 1
    assert {"said": "sixty", "heard": "sixteen", "times": 1} in score["confused"]
    assert (kept / "plan.toml").read_bytes() == PLAN.read_bytes()
    (scored,) = objects(handsfree("score", kept, "--json", cwd=tmp_path))
    assert {result: scored["commands"][result] for result in ("right", "wrong", "asked", "ignored")} == {
        "right": 1, "wrong": 1, "asked": 0, "ignored": 1,
    }  # fmt: skip


def test_files_go_where_they_are_told_and_never_over_others(elsewhere: Path, tmp_path: Path) -> None:
    first = handsfree(
        "rehearse", PLAN, "--from", elsewhere, "--to", tmp_path / "to", "--count", "1", cwd=tmp_path
    )
    assert first.returncode == 0, first.stderr
    assert "1 of 1" in first.stdout
    assert f"handsfree adapt --from {tmp_path / 'to'} learns from it" in first.stdout
    assert not (tmp_path / "data").exists()
    again = handsfree("rehearse", PLAN, "--from", elsewhere, "--to", tmp_path / "to", cwd=tmp_path)
    assert refusal(again) == f"{tmp_path / 'to'} holds recordings already; name another folder"


def test_a_folder_without_a_manifest_or_with_a_recording_missing_is_refused(
    elsewhere: Path, tmp_path: Path
) -> None:
    (elsewhere / "b.ogg").unlink()
    said = refusal(handsfree("rehearse", PLAN, "--from", elsewhere, cwd=tmp_path))
    assert "b.ogg is named in the manifest but isn't there; remove its row or bring it back" in said
    said = refusal(handsfree("rehearse", PLAN, "--from", RECORDINGS, cwd=tmp_path))
    assert said.endswith("no column 'kind'; it needs file, voice, kind, text, cylinder, ring, value, unit")
    (elsewhere / "manifest.csv").unlink()
    said = refusal(handsfree("rehearse", PLAN, "--from", elsewhere, cwd=tmp_path))
    assert said.startswith(f"{elsewhere} has no manifest.csv; make one with the columns file, voice")
    assert not (tmp_path / "data").exists()


@pytest.mark.parametrize(
    ("arguments", "said"),
    [
        (("--check", "ring gap"), 'ring fitting; did you mean "ring gaps"?'),
        (("--voice", "bob"), 'has no voice "bob"; use one of: ann'),
    ],
)  # fmt: skip
def test_a_check_or_voice_that_is_not_there_is_refused(
    elsewhere: Path, tmp_path: Path, arguments: tuple[str, str], said: str
) -> None:
    assert said in refusal(handsfree("rehearse", PLAN, "--from", elsewhere, *arguments, cwd=tmp_path))


def test_no_microphone_is_said_in_one_sentence_and_no_folder_is_made(tmp_path: Path) -> None:
    said = refusal(handsfree("rehearse", PLAN, "--device", "no such thing", cwd=tmp_path))
    assert said.startswith("no microphone: ")
    assert said.endswith("plug one in, or choose another with --device")
    assert not (tmp_path / "data").exists()


# --- from a microphone that plays recordings -----------------------------------------------------

CAPSULE = """
    import pathlib, sys, time
    import numpy as np
    from handsfree.child import Parent
    from handsfree.hear import read_sound
    parent = Parent()
    parent.send({"ready": 16000, "device": "cup"})
    rng = np.random.default_rng(1)
    def play(samples):
        for start in range(0, len(samples), 1600):
            piece = samples[start : start + 1600] + rng.normal(0, 3, len(samples[start : start + 1600]))
            parent.send({"at": time.monotonic(), "lost": LOST}, piece.astype("<i2").tobytes())
            time.sleep(0.02)  # five times as fast as life
"""


def cup(folder: Path, body: str, lost: int = 0) -> list[str]:
    script = folder / "capsule.py"
    text = textwrap.dedent(CAPSULE).replace("LOST", str(lost)) + textwrap.dedent(body)
    script.write_text(text, encoding="utf-8")
    return [sys.executable, str(script)]


def test_each_phrase_is_cut_out_with_some_of_the_room_around_it(tmp_path: Path) -> None:
    names = ("02-michael.ogg", "05-emma.ogg")
    body = f"""
        def hush(until):
            while not pathlib.Path({str(tmp_path)!r}, until).exists(): play(np.zeros(1600))
        play(np.zeros(32000))
        for number, name in enumerate({[str(RECORDINGS / name) for name in names]}):
            hush(f"shown{{number}}")
            play(np.zeros(8000))
            play(read_sound(name))
        hush("the end")
    """
    with Takes(patience_s=30, command=cup(tmp_path, body)) as takes:
        assert takes.device == "cup, 16 kHz"
        found = [takes.take((tmp_path / f"shown{number}").touch) for number in range(len(names))]
    for name, take in zip(names, found, strict=True):
        assert take.trouble is None
        spoken = read_sound(RECORDINGS / name)
        assert len(spoken) * 0.7 < len(take.samples) < len(spoken) + 3 * 16_000
        assert np.abs(take.samples[:3200]).max() < 1000  # the room, before anybody speaks


def test_silence_a_whisper_and_torn_sound_are_told_from_a_phrase(tmp_path: Path) -> None:
    with Takes(patience_s=1, command=cup(tmp_path, "while True: play(np.zeros(1600))")) as takes:
        take = takes.take(lambda: None)
    assert (take.trouble, len(take.samples)) == (Trouble.SILENT, 0)
    spoken = read_sound(RECORDINGS / "02-michael.ogg")
    assert trouble_with(spoken) is None
    assert trouble_with((spoken / 200).astype(np.int16)) is Trouble.QUIET
    body = f"""
        play(np.zeros(32000))
        while True:
            play(read_sound({str(RECORDINGS / "02-michael.ogg")!r}))
            play(np.zeros(32000))
    """
    with Takes(patience_s=30, command=cup(tmp_path, body, lost=1)) as takes:
        assert takes.take(lambda: None).trouble is Trouble.TORN


def test_a_microphone_that_goes_away_is_said(tmp_path: Path) -> None:
    body = "play(np.zeros(16000)); parent.send({'error': 'unplugged'}); time.sleep(9)"
    with (
        Takes(patience_s=20, command=cup(tmp_path, body)) as takes,
        pytest.raises(SoundError, match="the microphone went away: unplugged; plug it in and begin again"),
    ):
        takes.take(lambda: None)


def test_a_microphone_that_gives_no_sound_is_said(tmp_path: Path) -> None:
    with (
        pytest.raises(SoundError, match="no microphone: no such device; plug one in"),
        Takes(command=cup(tmp_path, "parent.send({'error': 'no such device'})")),
    ):
        pass


class Scripted:
    """Takes that come as they are written down, with what was shown before each."""

    def __init__(self, takes: list[Take]) -> None:
        self._takes = iter(takes)
        self.asked = 0

    def take(self, show: Callable[[], object]) -> Take:
        show()
        self.asked += 1
        return next(self._takes)


@pytest.mark.quick
def test_a_phrase_that_went_amiss_is_asked_for_once_more_and_no_more(
    capsys: pytest.CaptureFixture[str],
) -> None:
    plan = load_plan(PLAN)
    check = plan.checks[0]
    ear = Ear(listen_for(plan, check), None)  # type: ignore[arg-type]
    good, faint = Take(np.ones(9, np.int16)), Take(np.full(7, 2, np.int16), Trouble.QUIET)
    silent = Take(np.zeros(0, np.int16), Trouble.SILENT)
    takes = Scripted([good, faint, good, silent, silent, faint, faint])
    options = argparse.Namespace(count=4, seed=1, voice=None)
    kept = list(_read_aloud(takes, check, ear, options))  # type: ignore[arg-type]
    assert [(row.file, len(samples)) for row, samples in kept] == [
        ("01.flac", 9),
        ("02.flac", 9),
        ("04.flac", 7),
    ]
    assert takes.asked == 7
    said = capsys.readouterr().out
    assert said.count("That was very quiet: come closer, or speak up. Once more, please:") == 2
    assert said.count("Nothing was heard. Once more, please:") == 1
    assert "Nothing was heard. It is left out." in said
    phrases = phrases_to_read(ear.listening, check, 4, 1)
    assert [said.count(f"    {phrase.text}\n") for phrase in phrases] == [1, 2, 2, 2]
    assert "Not read this time: " in said


# --- at a terminal, in a room --------------------------------------------------------------------


@pytest.mark.skipif(not available(), reason="no PulseAudio here")
def test_phrases_are_read_aloud_one_after_the_other_and_being_stopped_keeps_them(tmp_path: Path) -> None:
    spoken = write_wav_at(tmp_path / "spoken.wav", read_sound(RECORDINGS / "02-michael.ogg"), 16_000)
    with Room() as room:
        terminal, child = pty.openpty()
        process = subprocess.Popen(
            [sys.executable, "-m", "handsfree.cli", "rehearse", PLAN, "--to", tmp_path / "kept"],
            env=room.env | {"PYTHONPATH": str(ROOT), "XDG_DATA_HOME": str(tmp_path), "PYTHONUTF8": "1"},
            stdin=subprocess.DEVNULL, stdout=child, stderr=subprocess.STDOUT,
        )  # fmt: skip
        os.close(child)
        said = bytearray()
        read_until(terminal, said, b"\r\n1 of 20\r\n")
        for number in (1, 2):
            time.sleep(1)
            room.say(spoken)
            read_until(terminal, said, f"\r\n{number + 1} of 20\r\n".encode())
        process.send_signal(signal.SIGINT)
        read_until(terminal, said, b"learns from it")
        assert process.wait(timeout=60) == 130
        os.close(terminal)
    text = said.decode()
    assert "Stopped." in text
    assert "█" in text  # the phrase, in large letters
    with (tmp_path / "kept" / "manifest.csv").open(encoding="utf-8", newline="") as file:
        rows = list(csv.DictReader(file))
    assert [row["file"] for row in rows] == ["01.flac", "02.flac"]
    assert all(f"    {row['text']}" in text for row in rows)
    for row in rows:
        heard = read_sound(tmp_path / "kept" / row["file"])
        assert 1.0 < len(heard) / 16_000 < 4.5
    score = json.loads((tmp_path / "kept" / "score.json").read_text(encoding="utf-8"))
    assert score["commands"]["total"] == 2
    assert text.count("heard: sixteen thou") == 2
    assert judge_row(read_manifest(tmp_path / "kept")[0], [])[0] == "ignored"  # a manifest that can be scored


def read_until(terminal: int, said: bytearray, mark: bytes, seconds: float = 60) -> None:
    until = time.monotonic() + seconds
    while mark not in said:
        assert time.monotonic() < until, said.decode(errors="replace")
        if select.select([terminal], [], [], 0.5)[0]:
            try:
                said += os.read(terminal, 65536)
            except OSError:  # the other side is closed
                break
    assert mark in said, said.decode(errors="replace")
