"""The one door for text files that a person gives: what it takes, and the sentence for what it doesn't."""

from __future__ import annotations

import os
import threading
from decimal import Decimal
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from handsfree.errors import HandsfreeError, PlanError
from handsfree.planfile import load_plan, load_template, parse_plan
from handsfree.recordings import read_manifest
from handsfree.speak.phrasebook import PHRASES_FILE, read_phrasebook
from handsfree.textfile import MOST_BYTES, lines_of, parse_toml, read_text
from handsfree.understand import load_spellings
from handsfree.understand.grammar import grammar_folder, load_grammar
from handsfree.visible import MOST_SHOWN, sentence, shown, visible
from tests.support.program import PLAN, ROOT

pytestmark = pytest.mark.quick

MARK = b"\xef\xbb\xbf"  # the byte order mark in UTF-8: Unicode 15.0, table 2-4


def refused(path: Path | str) -> str:
    with pytest.raises(PlanError) as caught:
        read_text(path, "plan file", PlanError)
    assert "\n" not in str(caught.value)
    return str(caught.value).removeprefix(shown(path))


def test_a_byte_order_mark_is_taken_off_and_line_ends_are_kept(tmp_path: Path) -> None:
    (tmp_path / "a").write_bytes(MARK + "µm\r\n".encode())
    assert read_text(tmp_path / "a", "list", PlanError) == "µm\r\n"


def test_a_mark_elsewhere_than_at_the_start_stays(tmp_path: Path) -> None:
    (tmp_path / "a").write_bytes(b"x" + MARK)
    assert read_text(tmp_path / "a", "list", PlanError) == "x\ufeff"


@pytest.mark.parametrize(
    ("data", "said"),
    [
        (b"\xff\xfea\0", ": this is no text in UTF-8, so no plan file; save it as UTF-8"),
        (b"caf\xe9", ": this is no text in UTF-8, so no plan file; save it as UTF-8"),
        (b"\xed\xa0\x80", ": this is no text in UTF-8, so no plan file; save it as UTF-8"),
        (b"a\nb\0", ", line 2: a NUL byte stands there, so this is no plan file; save it as text"),
        (b" " * (MOST_BYTES + 1), ": this is longer than 1,000,000 bytes, so no plan file; check its name"),
    ],
)
def test_what_is_no_text_says_why(data: bytes, said: str, tmp_path: Path) -> None:
    (tmp_path / "a").write_bytes(data)
    assert refused(tmp_path / "a") == said


def test_what_is_no_file_says_why(tmp_path: Path) -> None:
    os.mkfifo(tmp_path / "pipe")
    (tmp_path / "loop").symlink_to("loop")
    no_file = "so it can't be read as a plan file; name a file"
    assert refused(tmp_path / "none") == ": there is no such plan file; check its name"
    assert refused(tmp_path) == f": this is a folder, {no_file}"
    assert refused("/dev/zero") == f": this is a device or a pipe, {no_file}"
    assert refused(tmp_path / "pipe") == f": this is a device or a pipe, {no_file}"
    assert refused(tmp_path / "loop").startswith(": the plan file can't be read (")
    assert refused("x" * 5000).startswith(": the plan file can't be read (")
    assert refused("a\0b") == ": no file can have this name; check it"


def test_a_pipe_that_somebody_writes_to_is_refused_too(tmp_path: Path) -> None:
    os.mkfifo(tmp_path / "pipe")
    writer = threading.Thread(target=lambda: os.close(os.open(tmp_path / "pipe", os.O_RDWR)))
    writer.start()
    assert "a device or a pipe" in refused(tmp_path / "pipe")
    writer.join()


@pytest.mark.parametrize(
    "load",
    [
        load_plan,
        load_template,
        load_grammar,
        load_spellings,
        read_phrasebook,
        lambda path: read_manifest(path.parent),
    ],
)
def test_every_reader_comes_through_the_door(load, tmp_path: Path) -> None:
    os.mkfifo(tmp_path / "manifest.csv")
    with pytest.raises(HandsfreeError, match="this is a device or a pipe"):
        load(tmp_path / "manifest.csv")


def test_files_with_a_mark_are_read_as_those_without(tmp_path: Path) -> None:
    for name, source in (("p", PLAN), ("w", PHRASES_FILE), ("s", grammar_folder() / "spellings.toml")):
        (tmp_path / name).write_bytes(MARK + source.read_bytes().replace(b"\n", b"\r\n"))
    assert load_plan(tmp_path / "p").checks == load_plan(PLAN).checks
    assert read_phrasebook(tmp_path / "w") == read_phrasebook()
    assert load_spellings(tmp_path / "s") == load_spellings()


def test_a_fault_behind_a_mark_gets_its_line(tmp_path: Path) -> None:
    text = PLAN.read_text("utf-8").replace("order =", "ordr =")
    line = text[: text.index("ordr =")].count("\n") + 1
    (tmp_path / "p").write_bytes(MARK + text.replace("\n", "\r\n").encode())
    with pytest.raises(PlanError, match=rf"line {line}, check\[1\]\.ordr"):
        load_plan(tmp_path / "p")


@pytest.mark.parametrize(
    "number", ["9" * 5000, "0x" + "f" * 5000, "1e" + "9" * 30, "1e-400", "1" * 41 + ".0"]
)
@pytest.mark.parametrize("table", ["a = {}", "a = [[1, {{b = {}}}]]", "format = {}"])
def test_a_number_beyond_all_sense_is_refused(table: str, number: str) -> None:
    with pytest.raises(PlanError, match="a number in this file has more than 40 digits; mend it"):
        parse_toml(table.format(number), "plan.toml", PlanError)


def test_numbers_of_a_bench_are_read_exactly() -> None:
    text = "a = 0.000000001\nb = 1e6\nc = -12345678901234567890\nd = nan"
    table = parse_toml(text, "plan.toml", PlanError)
    assert table["a"] == Decimal("0.000000001")
    assert (table["b"], table["c"]) == (10**6, -12345678901234567890)
    assert table["d"].is_nan()


def test_a_plan_with_a_number_of_5000_digits_is_refused_anywhere() -> None:
    text = PLAN.read_text("utf-8")
    for key in ("format = 1", 'aim = "18 thou"', "cylinder = 8"):
        assert key in text
        name = key.partition(" ")[0]
        for digits in ("9" * 5000, f'"{"9" * 5000} thou"', f'"{"9" * 5000}"'):
            with pytest.raises(PlanError) as caught:
                parse_plan(text.replace(key, f"{name} = {digits}", 1))
            assert len(str(caught.value)) <= MOST_SHOWN


@given(st.text())
def test_lines_are_those_of_every_system(text: str) -> None:
    lines = text.replace("\r", "").replace("\n", "").join(["a", "b", "c"]).split("\n")
    assert lines_of("\n".join(lines)) == lines_of("\r\n".join(lines)) == lines_of("\r".join(lines) + "\r")


@given(st.text(st.characters(codec=None)))
def test_what_is_shown_can_be_printed_and_is_short(text: str) -> None:
    assert visible(text).isprintable()
    assert sentence(text * 20).isprintable()
    assert len(sentence(text * 200)) <= MOST_SHOWN


def test_toml_is_read_in_one_place() -> None:
    """Tables that come with the program need no sentences; every other goes through `parse_toml`."""
    own = {"textfile.py", "target.py", "plan.py", "assumptions.py", "models.py", "outputs.py", "near.py"}
    found = {path.name for path in (ROOT / "handsfree").rglob("*.py") if "tomllib" in path.read_text("utf-8")}
    assert found == own
