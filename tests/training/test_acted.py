"""Clips with transcripts out of the games' files, which are made here in the same layout."""

from __future__ import annotations

import csv
import io
import shutil
import subprocess
from pathlib import Path

import numpy as np
import pytest
import soundfile
from hypothesis import given
from hypothesis import strategies as st

from handsfree.training.acted import (
    LONGEST_S,
    Overheard,
    clips,
    labelled,
    main,
    parts,
    queen_files,
    queen_lines,
    sky_sounds,
    tidy,
)

FIXTURES = Path(__file__).parents[2] / "audio_fixtures"


def directory_entry(number: int, place: int, size: int) -> bytes:
    return number.to_bytes(2, "little") + place.to_bytes(3, "little") + (size | 1 << 23).to_bytes(3, "little")


def string(number: int, text: str) -> bytes:
    data = number.to_bytes(4, "big") + bytes([len(text)]) + text.encode()
    return data + b"\0" * (-len(data) % 4)


def queen(files: dict[str, bytes]) -> bytes:
    """The other game's one file."""
    head = b"QTBL" + b"TEST1\0" + b"\0\0\1" + len(files).to_bytes(2, "big")
    place, entries = len(head) + 21 * len(files), b""
    for name, data in files.items():
        entries += name.encode().ljust(12, b"\0") + b"\1" + place.to_bytes(4, "big")
        entries += len(data).to_bytes(4, "big")
        place += len(data)
    return head + entries + b"".join(files.values())


def package(folder: Path, name: str, files: dict[str, bytes]) -> Path:
    """A Debian package with these files."""
    (folder / name / "DEBIAN").mkdir(parents=True)
    (folder / name / "usr").mkdir()
    about = f"Package: {name}\nVersion: 1\nArchitecture: all\nMaintainer: Nobody <nobody@example.org>\n"
    (folder / name / "DEBIAN" / "control").write_text(about + "Description: for a test\n")
    for file, data in files.items():
        (folder / name / "usr" / file).write_bytes(data)
    made = folder / f"{name}.deb"
    subprocess.run(["dpkg-deb", "--build", folder / name, made], check=True, capture_output=True)
    return made


@pytest.mark.quick
def test_spoken_lines_are_found_by_number_at_either_kind_of_place() -> None:
    levels = np.arange(0, 200, dtype=np.uint8)
    speech = b"\xff" * 22 + levels.tobytes()
    data = b"\0" * 32 + speech + b"\0" * 6 + b"other"
    entries = [
        directory_entry(50_007, 2 | 1 << 23, len(speech)),
        directory_entry(59_999, 32, len(speech)),
        directory_entry(49_999, 32, len(speech)),
        directory_entry(60_000, 32, len(speech)),
    ]
    found = list(sky_sounds(len(entries).to_bytes(4, "little") + b"".join(entries), data))
    assert [(name, rate) for name, _, rate in found] == [("sky50007", 11_025), ("sky59999", 11_025)]
    for _, sound, _ in found:
        np.testing.assert_array_equal(sound, (levels.astype(np.float32) - 128) / 128)


@pytest.mark.quick
@pytest.mark.parametrize("number", [6, 0x1E, 0x23, 0x41, 0x1041, 0x4141])
@pytest.mark.parametrize("more", ["", " which is a line so long that its length is a letter"])
def test_every_line_of_a_dialogue_is_found_whatever_its_number(number: int, more: str) -> None:
    files = {
        "BOB1.DOG": b"\0\2\0\2" + string(number, f"Hello... you there?{more}*04*03Go away{more}!*02"),
        "QUEEN2.JAS": b"It's locked*24\r\nA rope\r\n",
        "MAP.PCX": string(7, "Not a line"),
    }
    assert queen_files(queen(files)) == files
    lines = {f"Hello... you there?{more}", f"Go away{more}!"}
    assert set(queen_lines(files)) == {*lines, "It's locked", "A rope"}


@pytest.mark.quick
def test_another_edition_is_told_from_this_one() -> None:
    with pytest.raises(ValueError, match="another edition"):
        queen_files(b"RIFF and more")


@pytest.mark.quick
@given(
    st.lists(st.tuples(st.floats(0.3, 9), st.floats(0.05, 1.0)), min_size=1, max_size=6),
    st.integers(0, 2**32 - 1),
)
def test_parts_are_no_longer_than_they_may_be_and_keep_what_was_said(
    talk: list[tuple[float, float]], seed: int
) -> None:
    draw = np.random.default_rng(seed)
    sound = np.concatenate(
        [
            np.concatenate([draw.uniform(-0.5, 0.5, int(16_000 * said)), np.zeros(int(16_000 * quiet))])
            for said, quiet in talk
        ]
    ).astype(np.float32)
    given_s = [len(part) / 16_000 for part in parts(sound)]
    assert all(0.4 <= seconds <= LONGEST_S for seconds in given_s)
    if all(0.5 <= said <= 3 and quiet >= 0.2 for said, quiet in talk):
        assert sum(given_s) >= sum(said for said, _ in talk) - 0.4 * len(talk)


@pytest.mark.quick
def test_silence_gives_no_part() -> None:
    assert not list(parts(np.zeros(32_000, np.float32)))
    assert not list(parts(np.zeros(10, np.float32)))


@pytest.mark.quick
@pytest.mark.parametrize(
    ("heard", "label"),
    [
        (Overheard("You got a big gin.", -0.9, True), ("You got a big chin", "acted")),
        (Overheard("Quite another thing.", -0.2, True), ("Quite another thing.", "overheard")),
        (Overheard("Quite another thing.", -0.9, True), ("", "human")),
        (Overheard("Quite another thing.", -1.7, True), None),
        (Overheard("Other, other, other, other", -0.1, False), None),
        (Overheard("You", -0.1, True), None),
        (Overheard("\u00a9 transcript Somebody", -0.1, True), None),
    ],
)  # fmt: skip
def test_text_is_the_games_own_where_it_is_like_what_was_heard(
    heard: Overheard, label: tuple[str, str] | None
) -> None:
    assert labelled(heard, ["You got a big CHIN...", "A shovel.", "Where's the mechanic?"]) == label


@pytest.mark.quick
def test_shouting_and_trailing_off_are_written_plainly() -> None:
    assert tidy("Well... this place looks REALLY nice!!") == "Well this place looks really nice!"
    assert tidy("...on TV , I said?!") == "on TV, I said?"


@pytest.mark.skipif(shutil.which("dpkg-deb") is None, reason="needs dpkg-deb, to make and open a package")
def test_a_package_becomes_clips_with_their_transcripts(tmp_path: Path) -> None:
    with (FIXTURES / "manifest.csv").open(encoding="utf-8", newline="") as file:
        row = next(r for r in csv.DictReader(file) if r["kind"] == "chatter" and r["voice"] == "flite-slt")
    sound, rate = soundfile.read(FIXTURES / row["file"])
    spoken = io.BytesIO()
    soundfile.write(spoken, sound, rate, format="WAV")
    files = {
        "T.DOG": string(9, f"{row['text'].upper()[:1]}{row['text'][1:]}...*02"),
        "020009P1.SB": spoken.getvalue(),
    }
    made = package(tmp_path, "queen", {"queen.1c": queen(files)})
    main([str(tmp_path / "out"), str(made)])
    with (tmp_path / "out" / "out.csv").open(encoding="utf-8", newline="") as file:
        [clip] = csv.DictReader(file)
    assert clip["kind"] == "acted"
    assert clip["text"].rstrip(".").lower() == row["text"].rstrip(".").lower()
    kept, kept_rate = soundfile.read(tmp_path / "out" / clip["file"])
    assert (kept_rate, float(np.abs(kept).max())) == (16_000, pytest.approx(0.5, abs=0.01))
    assert 0.5 * len(sound) < len(kept) <= len(sound)


@pytest.mark.skipif(shutil.which("dpkg-deb") is None, reason="needs dpkg-deb, to make and open a package")
def test_a_package_without_either_game_is_named(tmp_path: Path) -> None:
    made = package(tmp_path, "empty", {"readme": b"nothing"})
    with pytest.raises(ValueError, match=r"empty\.deb holds neither"):
        next(clips(made))
