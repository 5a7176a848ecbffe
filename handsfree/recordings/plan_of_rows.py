"""The plan of a folder of recordings: its own, or one made from the positions in its manifest."""

from __future__ import annotations

import json
from collections.abc import Iterable, Sequence
from pathlib import Path

from handsfree.errors import ScoreError
from handsfree.length import Unit
from handsfree.plan import Plan
from handsfree.planfile import load_plan, parse_plan
from handsfree.recordings.manifest import ManifestRow

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
