"""The permanent splits of recordings of people, noises and rooms, in ``splits.csv``.

- train: weights and spellings are learned from them.
- spare: held-out speakers like those of train, for comparing sentences.
- choose: blends and thresholds are compared on them.
- judge: held out; heard when a version is published, and never used to choose anything.

A folder of recordings has a ``manifest.csv`` with at least the columns file, set, speaker, text and
seconds. Its own column split is ignored: only the list in this package counts, and recordings missing from
the list are not used.
"""

from __future__ import annotations

import csv
from dataclasses import dataclass
from functools import cache
from pathlib import Path

from handsfree.errors import HandsfreeError

LIST = Path(__file__).with_name("splits.csv")
TRAIN, SPARE, CHOOSE, JUDGE = "train", "spare", "choose", "judge"
SPLITS = (TRAIN, SPARE, CHOOSE, JUDGE)
NOISES = "noise-"  # prefix of sets of noises, whose recordings are listed one by one
ROOMS = "impulse-responses"


@dataclass(frozen=True, slots=True)
class Recorded:
    """One recording: its file, set and speaker, its text (or none), its length."""

    path: Path
    set: str
    speaker: str
    text: str
    seconds: float

    @property
    def name(self) -> str:
        """The set and the file, for messages and seeds."""
        return f"{self.set}/{self.path.name}"


@cache
def listed() -> dict[tuple[str, str], str]:
    """Return the split of each speaker: by set, and speaker or (for noises) file name without its suffix."""
    with LIST.open(encoding="utf-8", newline="") as file:
        return {(row["set"], row["speaker"]): row["split"] for row in csv.DictReader(file)}


def recorded(folder: Path, split: str, prefix: str = "") -> list[Recorded]:
    """Return the recordings of one split in a folder, of sets whose names begin with `prefix`.

    Raises:
        HandsfreeError: when the folder has no manifest.
    """
    manifest = folder / "manifest.csv"
    if not manifest.is_file():
        raise HandsfreeError(f'no "manifest.csv" in {folder}; name the folder with the recordings of people')
    found = []
    with manifest.open(encoding="utf-8", newline="") as file:
        for row in csv.DictReader(file):
            one = Recorded(
                folder / row["file"], row["set"], row["speaker"], row["text"], float(row["seconds"])
            )
            if one.set.startswith(prefix) and listed().get((one.set, listed_name(one))) == split:
                found.append(one)
    return found


def listed_name(one: Recorded) -> str:
    """Return the name under which a recording is listed: its speaker, or its file if it is a noise."""
    return one.path.stem if one.set.startswith(NOISES) else one.speaker
