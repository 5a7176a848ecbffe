"""A folder of recordings with a manifest: what was said in each, as a listener should take it."""

from __future__ import annotations

import csv
import io
from collections.abc import Mapping
from dataclasses import dataclass
from decimal import Decimal, InvalidOperation
from pathlib import Path
from typing import Any

from handsfree.errors import ScoreError
from handsfree.length import Length, Unit
from handsfree.planfile import written_length
from handsfree.textfile import read_text
from handsfree.visible import shown

NAME = "manifest.csv"
KINDS = ("reading", "bare", "word", "chatter")
_MOST_BYTES = 30_000_000  # some 300,000 recordings
_NEEDED = ("file", "voice", "kind", "text", "cylinder", "ring", "value", "unit")


@dataclass(frozen=True, slots=True)
class Row:
    """One recording: where it lies, who speaks, what is said and what it means.

    kind: "reading" names its position, "bare" doesn't, "word" is a procedure word (or, with a
    position, a move there), "chatter" must not be acted on. value: exact, None without one.
    feel: "no go", "go" or "drag", where the manifest says. split: "calibrate" or "held-out", where
    the manifest keeps speakers apart. place: labels on axes other than cylinder and ring.
    """

    file: str
    voice: str
    kind: str
    text: str
    cylinder: str | None = None
    ring: str | None = None
    value: Length | None = None
    feel: str | None = None
    split: str | None = None
    place: tuple[tuple[str, str], ...] = ()

    def expected(self) -> dict[str, Any] | None:
        """Give the command that should come of it, in the form of `hear --json`; None for chatter.

        >>> Row("a.wav", "me", "word", "say again").expected()
        {'kind': 'say again'}
        """
        if self.kind == "chatter":
            return None
        place = {"cylinder": self.cylinder, "ring": self.ring, **dict(self.place)}
        if self.value is not None:
            kind = "correction" if self.text.lower().startswith("correction") else "reading"
            return {"kind": kind, **place, "length": self.value, "feel": self.feel}
        if self.cylinder or self.ring or self.place:
            return {"kind": "move", **{axis: label for axis, label in place.items() if label}}
        words = " ".join(self.text.lower().replace(",", " ").split())
        check = words.removeprefix("check ")
        return {"kind": words} if check == words else {"kind": "check", "check": check}


def same_command(expected: Mapping[str, Any], found: Mapping[str, Any]) -> bool:
    """Say whether a command of `hear --json` is the one that was expected.

    Amounts are compared as exact lengths, so 0.018 in is 18 thou. Axes beyond those expected must be
    unnamed, and a value that was taken back in the same breath doesn't matter.
    """
    if found.get("kind") != expected["kind"]:
        return False
    axes = {"cylinder", "ring"} | (expected.keys() - {"kind", "length", "feel"})
    if any((found.get(axis) or None) != (expected.get(axis) or None) for axis in axes):
        return False
    if "length" not in expected:
        return True
    try:
        amount = written_length(Decimal(str(found["value"])), Unit(str(found["unit"])))
    except (KeyError, ValueError, InvalidOperation):
        return False
    wanted: Length = expected["length"]
    return amount.mm == wanted.mm and (found.get("feel") or None) == (expected["feel"] or None)


def read_manifest(folder: Path) -> list[Row]:
    """Read ``manifest.csv`` of a folder.

    Raises:
        ScoreError: where it is missing, lacks a column, or a row makes no sense; it names the line.
    """
    path = folder / NAME
    if folder.is_dir() and not path.exists():
        raise ScoreError(f"{shown(folder)} has no {NAME}; make one with the columns {', '.join(_NEEDED)}")
    text = read_text(path, "manifest", ScoreError, most_bytes=_MOST_BYTES)
    try:
        reader = csv.DictReader(io.StringIO(text, newline=""))
        missing = [column for column in _NEEDED if column not in (reader.fieldnames or ())]
        if missing:
            raise ScoreError(f"{shown(path)}: no column {missing[0]!r}; it needs {', '.join(_NEEDED)}")
        return [_row(path, reader.line_num, record) for record in reader]
    except csv.Error as error:
        raise ScoreError(f"{shown(path)} can't be read as CSV: {error}; mend it") from None


def _row(path: Path, line: int, record: Mapping[str, str | None]) -> Row:
    def cell(column: str) -> str:
        return (record.get(column) or "").strip()

    if cell("kind") not in KINDS:
        raise ScoreError(f"{path}, line {line}: kind {cell('kind')!r} is none of {', '.join(KINDS)}")
    if not cell("file"):
        raise ScoreError(f"{path}, line {line}: no file is named; give its path from the manifest's folder")
    value = None
    if cell("value"):
        try:
            value = written_length(Decimal(cell("value")), Unit(cell("unit") or "thou"))
        except (InvalidOperation, ValueError):
            raise ScoreError(
                f"{path}, line {line}: {cell('value')!r} {cell('unit')!r} is no length; "
                f"write a decimal such as 18.5 and a unit out of {', '.join(Unit)}"
            ) from None
    elif cell("kind") in ("reading", "bare"):
        raise ScoreError(f"{path}, line {line}: a {cell('kind')} needs a value; write one, or call it a word")
    optional = {name: cell(name) or None for name in ("cylinder", "ring", "feel", "split")}
    place = _place(path, line, cell("place"))
    return Row(cell("file"), cell("voice"), cell("kind"), cell("text"), value=value, place=place, **optional)


def _place(path: Path, line: int, text: str) -> tuple[tuple[str, str], ...]:
    pairs = [part.partition("=") for part in text.split(";") if part.strip()]
    if not all(axis.strip() and label.strip() for axis, _, label in pairs):
        raise ScoreError(
            f"{path}, line {line}: {text!r} names no place; write axis=label, with semicolons between"
        )
    return tuple((axis.strip(), label.strip()) for axis, _, label in pairs)
