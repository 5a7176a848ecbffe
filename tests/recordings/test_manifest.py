"""Manifests: what is expected of each recording, and bad ones refused with the place."""

from __future__ import annotations

from dataclasses import replace
from decimal import Decimal
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from handsfree.errors import ScoreError
from handsfree.length import Length, Unit, length, plain
from handsfree.plan import Position
from handsfree.recordings import ManifestRow, read_manifest
from handsfree.recordings.manifest import KINDS, same_command
from handsfree.understand import Bracket, ChangeCheck, Command, Control, Feel, Move, Reading, Word

pytestmark = pytest.mark.quick

HEADER = "file,voice,kind,text,cylinder,ring,value,unit\n"
READING = Reading(length(18), Position.of({"cylinder": "3", "ring": "top"}))
ROW = ManifestRow("a.wav", "me", "reading", "cylinder three top, eighteen thou", "3", "top", length(18))


def manifest(folder: Path, *lines: str, header: str = HEADER) -> Path:
    (folder / "manifest.csv").write_text(header + "".join(f"{line}\n" for line in lines), "utf-8")
    return folder


def test_rows_come_back_as_written(tmp_path: Path) -> None:
    rows = read_manifest(
        manifest(
            tmp_path,
            'a.wav,me,reading,"cylinder three top, eighteen thou",3,top,18,thou',
            "b.wav,me,word,say again,,,,",
            "c.wav,you,bare,zero point four five millimetres,,,0.45,mm",
        )
    )
    assert rows == [
        ROW,
        ManifestRow("b.wav", "me", "word", "say again"),
        ManifestRow(
            "c.wav", "you", "bare", "zero point four five millimetres", value=length("0.45", Unit.MM)
        ),
    ]


def test_extra_columns_feel_and_split_are_kept(tmp_path: Path) -> None:
    header = HEADER.replace("unit", "unit,feel,split,note")
    rows = read_manifest(
        manifest(tmp_path, "a.wav,me,bare,no go eighteen,,,18,thou,no go,held-out,x", header=header)
    )
    assert (rows[0].feel, rows[0].split) == (Feel.NO_GO, "held-out")


def test_a_feel_that_is_none_is_named_by_its_line(tmp_path: Path) -> None:
    folder = manifest(tmp_path, "a.wav,me,bare,x,,,18,thou,loose", header=HEADER.replace("unit", "unit,feel"))
    with pytest.raises(ScoreError, match="line 2: feel 'loose' is none of no go, drag, go"):
        read_manifest(folder)


@pytest.mark.parametrize(
    ("lines", "said"),
    [
        (["a.wav,me,song,la,,,,"], r"line 2: kind 'song' is none of reading, bare, word, chatter"),
        (
            ["a.wav,me,word,next,,,,", "b.wav,me,bare,x,,,eighteen,thou"],
            r"line 3: 'eighteen' 'thou' is no length",
        ),
        (["a.wav,me,bare,x,,,18,furlong"], r"'18' 'furlong' is no length"),
        (["a.wav,me,bare,x,,,1e999999,thou"], r"line 2: '1e999999' 'thou' is no length"),
        (["a.wav,me,bare,x,,,1e-999999,thou"], r"line 2: '1e-999999' 'thou' is no length"),
        (["a.wav,me,bare,x,,,NaN,thou"], r"line 2: 'NaN' 'thou' is no length"),
        (["a.wav,me,bare,x,,,Infinity,mm"], r"line 2: 'Infinity' 'mm' is no length"),
        (["a.wav,me,bare,x,,,18.1234567890123,thou"], r"line 2: '18.1234567890123' 'thou' is no length"),
        (["a.wav,me,reading,x,3,top,,"], r"line 2: a reading needs a value"),
        ([",me,word,next,,,,"], r"line 2: no file is named"),
    ],
)
def test_a_row_that_makes_no_sense_is_named_by_its_line(tmp_path: Path, lines: list[str], said: str) -> None:
    with pytest.raises(ScoreError, match=said):
        read_manifest(manifest(tmp_path, *lines))


def test_a_missing_manifest_says_what_to_make(tmp_path: Path) -> None:
    with pytest.raises(ScoreError, match=r"has no manifest\.csv; make one with the columns file, voice"):
        read_manifest(tmp_path)


def test_a_missing_column_is_named(tmp_path: Path) -> None:
    with pytest.raises(ScoreError, match="no column 'ring'"):
        read_manifest(manifest(tmp_path, header="file,voice,kind,text,cylinder,value,unit\n"))


def test_a_manifest_that_is_not_text_is_refused_in_one_sentence(tmp_path: Path) -> None:
    (tmp_path / "manifest.csv").write_bytes(b"file,voice\xff\xfe\n")
    with pytest.raises(ScoreError, match="no text in UTF-8, so no manifest"):
        read_manifest(tmp_path)


def test_the_command_expected_of_each_kind() -> None:
    two_top = Position.of({"cylinder": "2", "ring": "top"})
    assert ROW.expected() == READING
    correction = ManifestRow("b", "me", "bare", "Correction, nineteen", value=length(19))
    assert correction.expected() == Reading(length(19), corrects=True)
    assert ManifestRow("b", "me", "bare", "no go x", value=length(9), feel=Feel.NO_GO).expected() == Reading(
        length(9), feel=Feel.NO_GO
    )
    assert ManifestRow("b", "me", "word", "Say again").expected() == Control(Word.SAY_AGAIN)
    assert ManifestRow("b", "me", "word", "cylinder two top", "2", "top").expected() == Move(two_top)
    assert ManifestRow("b", "me", "word", "check valve lash").expected() == ChangeCheck("valve lash")
    assert ManifestRow("b", "me", "word", "put the kettle on").expected() is None
    assert ManifestRow("b", "me", "chatter", "say again").expected() is None


def placed(**labels: str) -> Position:
    return Position.of(labels)


@pytest.mark.parametrize(
    "other",
    [
        replace(READING, corrects=True),
        replace(READING, position=placed(cylinder="5", ring="top")),
        replace(READING, position=placed(ring="top")),
        replace(READING, position=placed(cylinder="3", ring="second")),
        replace(READING, position=placed(cylinder="3", ring="top", side="thrust")),
        replace(READING, position=None),
        replace(READING, value=length(80)),
        replace(READING, value=length("18.5")),
        replace(READING, value=length(18, Unit.MM)),
        replace(READING, feel=Feel.NO_GO),
        Bracket(length(18), length(18), READING.position),
        Move(placed(cylinder="3", ring="top")),
        Control(Word.ROGER),
    ],
)
def test_any_difference_makes_it_another_command(other: Command) -> None:
    assert same_command(READING, READING)
    assert not same_command(READING, other)


def test_the_order_in_which_a_place_was_said_does_not_matter() -> None:
    assert same_command(READING, replace(READING, position=placed(ring="top", cylinder="3")))


def test_equal_lengths_in_other_units_are_the_same_amount() -> None:
    assert same_command(READING, replace(READING, value=length("0.018", Unit.INCH)))
    assert same_command(READING, replace(READING, value=length("0.4572", Unit.MM)))
    assert not same_command(READING, replace(READING, value=length("0.457", Unit.MM)))


def test_a_value_taken_back_in_the_same_breath_does_not_matter() -> None:
    assert same_command(READING, replace(READING, withdrawn=length(17)))


def test_a_position_that_was_not_said_is_a_difference() -> None:
    bare = Reading(length(18))
    assert same_command(bare, replace(READING, position=None))
    assert not same_command(bare, READING)


def test_a_place_on_other_axes_is_part_of_what_is_expected(tmp_path: Path) -> None:
    (tmp_path / "manifest.csv").write_text(
        "file,voice,kind,text,cylinder,ring,value,unit,place\n"
        'a.wav,me,reading,"main two housing, sixty",,,60,mm,main=2; part=housing\n'
        "b.wav,me,word,main two,,,,,main=2\n",
        encoding="utf-8",
    )
    reading, move = (row.expected() for row in read_manifest(tmp_path))
    assert reading == Reading(length(60, Unit.MM), placed(main="2", part="housing"))
    assert move == Move(placed(main="2"))
    assert same_command(move, Move(placed(main="2")))
    assert not same_command(move, Move(placed(main="1")))
    assert not same_command(reading, replace(reading, position=placed(main="2")))


def test_going_to_another_check_is_expected_with_its_name() -> None:
    assert same_command(ChangeCheck("valve lash"), ChangeCheck("valve lash"))
    assert not same_command(ChangeCheck("valve lash"), ChangeCheck("end float"))


@given(st.decimals("0.001", "99.999", places=3))
def test_any_written_value_is_found_again_exactly(value: Decimal) -> None:
    expected = ManifestRow("a", "v", "bare", "x", value=Length(value, Unit.THOU)).expected()
    assert expected is not None
    assert same_command(expected, Reading(Length(Decimal(plain(value)), Unit.THOU)))
    assert not same_command(expected, Reading(Length(value + Decimal("0.001"), Unit.THOU)))


def test_the_projects_own_fixtures_have_a_manifest_that_holds_together() -> None:
    folder = Path(__file__).parents[2] / "audio_fixtures"
    rows = read_manifest(folder)
    voices = {row.voice for row in rows}
    assert len(voices) >= 9
    assert min(sum(row.voice == voice for row in rows) for voice in voices) >= 30
    assert {row.kind for row in rows} == set(KINDS)
    assert {row.split for row in rows} == {"calibrate", "held-out"}
    assert all(len({row.split for row in rows if row.voice == voice}) == 1 for voice in voices)
    assert all((folder / row.file).is_file() for row in rows)
    assert len({row.file for row in rows}) == len(rows)
