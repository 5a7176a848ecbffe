"""What is taught, chosen and judged by is kept apart by the list and the programs that read recordings."""

from __future__ import annotations

import ast
import csv
import re
from collections import Counter
from pathlib import Path

import pytest

from handsfree.errors import HandsfreeError
from handsfree.training import bank, people, splits
from tests.measure import speakers

ROOT = Path(__file__).parents[2]
TRAINING = ROOT / "handsfree" / "training"
FIXTURES = ROOT / "audio_fixtures"
pytestmark = pytest.mark.quick

REMEDY = "name their folder with --speech or HANDSFREE_SPEECH"
# Files that may name the split judge: the list's reader, and the bench that publishes.
MEASURE = ROOT / "tests" / "measure"
MAY_JUDGE = {TRAINING / "splits.py", MEASURE / "speakers.py", MEASURE / "voices.py", Path(__file__)}


def write_manifest(folder: Path, rows: list[tuple[str, str, str]]) -> Path:
    folder.mkdir(exist_ok=True)
    with (folder / "manifest.csv").open("w", encoding="utf-8", newline="") as file:
        writer = csv.writer(file)
        writer.writerow(("file", "set", "speaker", "split", "text", "seconds", "source"))
        writer.writerows((*row, "train", "one two", "1.0", "") for row in rows)
    return folder


def one_of(split: str, prefix: str = "") -> tuple[str, str]:
    return next(key for key, its in splits.listed().items() if its == split and key[0].startswith(prefix))


def test_a_speaker_is_listed_once_in_one_of_the_four_splits() -> None:
    with splits.LIST.open(encoding="utf-8", newline="") as file:
        rows = [(row["set"], row["speaker"], row["split"]) for row in csv.DictReader(file)]
    assert [key for key, count in Counter((a, b) for a, b, _ in rows).items() if count > 1] == []
    assert {split for *_, split in rows} == set(splits.SPLITS)


def test_an4s_own_test_part_is_for_judging() -> None:
    judges = {key for key, split in splits.listed().items() if split == splits.JUDGE}
    assert {name for name, _ in judges} == {"an4"}
    assert len(judges) == 10  # the ten people of the test part of the corpus (from memory)


def test_the_manifests_own_split_does_not_count_and_strangers_are_used_for_nothing(tmp_path: Path) -> None:
    judged = one_of(splits.JUDGE)
    speech = write_manifest(tmp_path, [("a.flac", *judged), ("b.flac", "an4", "nobody")])
    assert splits.recorded(speech, splits.TRAIN) == []
    assert [one.path.name for one in splits.recorded(speech, splits.JUDGE)] == ["a.flac"]


def test_noises_are_listed_file_by_file(tmp_path: Path) -> None:
    for split in (splits.TRAIN, splits.CHOOSE):
        name, file = one_of(split, splits.NOISES)
        speech = write_manifest(tmp_path / split, [(f"{file}.opus", name, f"{name}-001")])
        assert [one.path.stem for one in splits.recorded(speech, split)] == [file]


def test_a_folder_without_a_manifest_is_named(tmp_path: Path) -> None:
    with pytest.raises(HandsfreeError, match=re.escape(f'no "manifest.csv" in {tmp_path}')):
        splits.recorded(tmp_path, splits.TRAIN)


@pytest.mark.parametrize("split", [splits.SPARE, splits.CHOOSE, splits.JUDGE])
def test_a_bank_refuses_a_list_with_a_recording_that_is_not_for_training(tmp_path: Path, split: str) -> None:
    write_manifest(tmp_path, [("a.flac", *one_of(split))])
    listed = tmp_path / "clips.csv"
    with listed.open("w", encoding="utf-8", newline="") as file:
        csv.writer(file).writerows([people.COLUMNS, ("a.flac", 0, 0, "one", "One.", "number")])
    with pytest.raises(ValueError, match="isn't for training"):
        list(bank.of_people(tmp_path, listed))


def test_held_out_voices_never_get_into_a_bank() -> None:
    clips = list(bank.of_voices(FIXTURES))
    with (FIXTURES / "manifest.csv").open(encoding="utf-8", newline="") as file:
        held_out = {FIXTURES / row["file"] for row in csv.DictReader(file) if row["split"] == "held-out"}
    assert len(held_out) > 300
    assert clips
    assert not held_out & {clip.path for clip in clips}


def test_no_program_but_the_one_that_publishes_names_the_split_judge() -> None:
    found = set()
    for path in [
        *TRAINING.rglob("*.py"),
        *(ROOT / "tests").rglob("*.py"),
        *(ROOT / "handsfree").rglob("*.py"),
    ]:
        tree = ast.parse(path.read_text("utf-8"))
        names = {node.id for node in ast.walk(tree) if isinstance(node, ast.Name)}
        names |= {node.attr for node in ast.walk(tree) if isinstance(node, ast.Attribute)}
        imported = {
            alias.name
            for node in ast.walk(tree)
            if isinstance(node, ast.ImportFrom) and node.module == "handsfree.training.splits"
            for alias in node.names
        }
        if "JUDGE" in imported or ("splits" in names and "JUDGE" in names) or path.name == "splits.py":
            found.add(path)
    assert found == MAY_JUDGE


def test_choosing_hears_no_judge_and_judging_nobody_else(tmp_path: Path) -> None:
    rows = [(f"{split}.flac", *one_of(split, "an4")) for split in (splits.TRAIN, splits.CHOOSE, splits.JUDGE)]
    rows.append(("spare.flac", *one_of(splits.SPARE, "librispeech")))
    write_manifest(tmp_path, rows)
    chosen = [one.path.stem for one in speakers.numbers(tmp_path, splits.CHOOSE)]
    judged = [one.path.stem for one in speakers.numbers(tmp_path, splits.JUDGE)]
    assert (chosen, judged) == (["choose"], ["judge"])


def test_nothing_is_measured_and_the_reason_said_where_there_are_no_recordings(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert speakers.main(["--speech", str(tmp_path)]) == 0
    said = capsys.readouterr().out
    assert said == f"skipped: no recordings of people at {tmp_path}: {REMEDY}\n"
