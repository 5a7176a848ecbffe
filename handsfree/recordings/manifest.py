"""A folder of recordings with a manifest: the words of each and their correct meaning.

The plan of a folder of recordings: its own, or one made from the positions in its manifest.
"""

from __future__ import annotations

import csv
import io
import json
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from decimal import Decimal, InvalidOperation
from pathlib import Path

from handsfree.errors import ScoreError
from handsfree.length import Length, Unit
from handsfree.plan import Plan, Position
from handsfree.planfile import load_plan, parse_plan, written_length
from handsfree.textfile import read_text
from handsfree.understand import ChangeCheck, Command, Control, Feel, Move, Reading, Word
from handsfree.visible import shown

NAME = "manifest.csv"
KINDS = ("reading", "bare", "word", "chatter")
_MOST_BYTES = 30_000_000  # some 300,000 recordings
_NEEDED = ("file", "voice", "kind", "text", "cylinder", "ring", "value", "unit")


@dataclass(frozen=True, slots=True)
class ManifestRow:
    """One recording: its file, speaker, words and meaning.

    kind: "reading" names its position, "bare" doesn't, "word" is a procedure word (or, with a
    position, a move there), "chatter" must not be acted on. value: exact, None without one.
    feel: how the leaf went in, where the manifest says. split: "calibrate" or "held-out", where
    the manifest keeps speakers apart. place: labels on axes other than cylinder and ring.
    """

    file: str
    voice: str
    kind: str
    text: str
    cylinder: str | None = None
    ring: str | None = None
    value: Length | None = None
    feel: Feel | None = None
    split: str | None = None
    place: tuple[tuple[str, str], ...] = ()

    def expected(self) -> Command | None:
        """Return the command that should come of it; None for chatter, and for words that are no command.

        >>> ManifestRow("a.wav", "me", "word", "say again").expected()
        Control(word=<Word.SAY_AGAIN: 'say again'>)
        """
        if self.kind == "chatter":
            return None
        named = {"cylinder": self.cylinder, "ring": self.ring, **dict(self.place)}
        position = Position.of({axis: label for axis, label in named.items() if label})
        if self.value is not None:
            corrects = self.text.lower().startswith("correction")
            return Reading(self.value, position if position.labels else None, self.feel, corrects)
        if position.labels:
            return Move(position)
        words = " ".join(self.text.lower().replace(",", " ").split())
        check = words.removeprefix("check ")
        if check != words:
            return ChangeCheck(check)
        return Control(Word(words)) if words in set(Word) else None


def same_command(expected: Command, found: Command) -> bool:
    """Return whether a command is the one that was expected.

    Amounts are compared as exact lengths, so 0.018 in is 18 thou. Other axes than the expected ones must be
    unnamed, and a value that was corrected in the same utterance is ignored.
    """
    match expected, found:
        case Reading(), Reading():
            return (
                found.corrects == expected.corrects
                and found.feel == expected.feel
                and found.value.mm == expected.value.mm
                and _labels(found.position) == _labels(expected.position)
            )
        case Move(), Move():
            return _labels(found.position) == _labels(expected.position)
    return found == expected


def _labels(position: Position | None) -> dict[str, str]:
    """Return labels by axis: the order in which they were said doesn't matter."""
    return {} if position is None else dict(position.labels)


def read_manifest(folder: Path) -> list[ManifestRow]:
    """Return the rows of a folder's ``manifest.csv``.

    Raises:
        ScoreError: it is missing, lacks a column, or has an invalid row; the error names the line.
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


def _row(path: Path, line: int, record: Mapping[str, str | None]) -> ManifestRow:
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
    return ManifestRow(
        cell("file"),
        cell("voice"),
        cell("kind"),
        cell("text"),
        cell("cylinder") or None,
        cell("ring") or None,
        value,
        _feel(path, line, cell("feel")),
        cell("split") or None,
        _place(path, line, cell("place")),
    )


def _feel(path: Path, line: int, text: str) -> Feel | None:
    try:
        return Feel(text) if text else None
    except ValueError:
        raise ScoreError(f"{path}, line {line}: feel {text!r} is none of {', '.join(Feel)}") from None


def _place(path: Path, line: int, text: str) -> tuple[tuple[str, str], ...]:
    pairs = [part.partition("=") for part in text.split(";") if part.strip()]
    if not all(axis.strip() and label.strip() for axis, _, label in pairs):
        raise ScoreError(
            f"{path}, line {line}: {text!r} names no place; write axis=label, with semicolons between"
        )
    return tuple((axis.strip(), label.strip()) for axis, _, label in pairs)


PLAN_NAME = "plan.toml"

# A plan made from a manifest must not use the values in it, or they would decide ambiguous numbers: these
# are usual ring gaps [common practice, no source], whatever the manifest's values.
_AIMS = {Unit.THOU: ("18 thou", "4 thou"), Unit.MM: ("0.45 mm", "0.1 mm")}
_CYLINDERS, _RINGS = 8, ("top", "second")


def plan_for(folder: Path, rows: Sequence[ManifestRow], given: Path | None) -> tuple[Plan, str]:
    """Return the plan for recognising a folder, and its origin.

    Raises:
        PlanError: the plan is invalid.
        ScoreError: no plan was given, and none can be made from the manifest.
    """
    own = folder / PLAN_NAME
    if given is not None or own.is_file():
        path = given or own
        return load_plan(path), str(path)
    text = plan_text_of(folder, rows)
    return parse_plan(text, f"{folder}: a plan made from its manifest"), "made from the manifest"


def plan_text_of(folder: Path, rows: Sequence[ManifestRow]) -> str:
    """Return the text of a plan of ring gaps with the cylinders and rings in the rows.

    Raises:
        ScoreError: the rows belong to other checks than ring gaps.
    """
    units = {row.value.unit for row in rows if row.value is not None} or {Unit.THOU}
    other = [row for row in rows if row.place]
    usable = [unit for unit in _AIMS if unit in units]
    if other or not usable:
        what = f"{other[0].place[0][0]} in {other[0].file}" if other else f"values in {min(units)}"
        raise ScoreError(f"{folder} is not of ring gaps alone ({what}); name its plan with --plan")
    unit = usable[0]
    rings = list(dict.fromkeys([*_RINGS, *_named(row.ring for row in rows)]))
    aim, plus = _AIMS[unit]
    return "\n".join(
        [
            "format = 1",
            'name = "Recordings"',
            "[engine]",
            'name = "any"',
            "[[check]]",
            'name = "ring gaps"',
            'rule = "file to gap"',
            f'unit = "{unit}"',
            "[check.axes]",
            f"cylinder = {_cylinders(_named(row.cylinder for row in rows))}",
            f"ring = {json.dumps(rings, ensure_ascii=False)}",
            "[[check.target]]",
            f'aim = "{aim}"',
            f'plus = "{plus}"',
        ]
    )


def _cylinders(named: Sequence[str]) -> str:
    """Return the number of cylinders, at least eight, if all are numbered; else their labels."""
    if all(label.isascii() and label.isdigit() for label in named):
        return str(max([_CYLINDERS, *map(int, named)]))
    return json.dumps(list(named), ensure_ascii=False)


def _named(labels: Iterable[str | None]) -> list[str]:
    return list(dict.fromkeys(label for label in labels if label))
