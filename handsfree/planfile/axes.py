"""The axes of a check and its positions in work order."""

from __future__ import annotations

import re
from itertools import product
from math import prod

from handsfree.plan import PART, Axis, Part, Position
from handsfree.planfile.source import KeyPath, Source
from handsfree.planfile.tables import CheckTable, TargetTable

MOST_LABELS = 99  # the grammar counts positions up to ninety-nine
MOST_POSITIONS = 10_000  # of a check; the largest engine has some hundreds to read
_WORDS = re.compile(r"[a-z]+(?:[ -][a-z0-9]+)*")
_LABEL = re.compile(r"[1-9][0-9]?|[a-z]+(?:[ -][a-z0-9]+)*")


def build_axes(table: CheckTable, path: KeyPath, parts: tuple[Part, ...], source: Source) -> tuple[Axis, ...]:
    """Return the axes in the order written, followed by the axis of the parts that are read.

    Raises:
        PlanError: no axis, a name or label that can't be spoken, a repeated label, an invalid count.
    """
    if not table.axes:
        raise source.error((*path, "axes"), "there is no axis; write one, such as cylinder = 8")
    axes = []
    reserved = {*TargetTable.model_fields, PART}
    for name, given in table.axes.items():
        where: KeyPath = (*path, "axes", name)
        if not _WORDS.fullmatch(name):
            raise source.error(where, f'an axis "{name}" can\'t be spoken; write words in small letters')
        if name in reserved:
            raise source.error(where, f'an axis can\'t be named "{name}", which means something else here')
        axes.append(Axis(name, _labels(given, where, source)))
    read = [part.name for part in parts if part.given is None]
    if read:
        for number, label in enumerate(read):
            if not _LABEL.fullmatch(label):
                raise source.error(
                    (*path, "part", number, "name"),
                    f'"{label}" can\'t be spoken as a part; write words in small letters',
                )
        axes.append(Axis(PART, tuple(read)))
    seen: dict[str, str] = {}
    for axis in axes:
        for label in axis.labels:
            if not label.isdigit() and label in seen:
                raise source.error(
                    (*path, "axes", axis.name) if axis.name != PART else (*path, "part"),
                    f'"{label}" is a label of {seen[label]} too, so what is meant is unclear; rename one',
                )
            seen[label] = axis.name
    return tuple(axes)


def _labels(given: int | list[str | int], where: KeyPath, source: Source) -> tuple[str, ...]:
    if isinstance(given, int):
        if not 1 <= given <= MOST_LABELS:
            raise source.error(
                where, f"there can't be {given} of them; write a count from 1 to {MOST_LABELS}"
            )
        return tuple(str(number) for number in range(1, given + 1))
    labels = tuple(str(label) for label in given)
    if not labels:
        raise source.error(where, "the list of labels is empty; write a count or the labels")
    if len(labels) > MOST_LABELS:
        raise source.error(where, f"there can't be {len(labels)} labels; write at most {MOST_LABELS}")
    for index, label in enumerate(labels):
        if not _LABEL.fullmatch(label):
            raise source.error(
                where,
                f'"{label}" can\'t be spoken as a label; write a number from 1 to {MOST_LABELS} '
                "or words in small letters",
            )
        if label in labels[:index]:
            raise source.error(where, f'the label "{label}" stands there twice; take one out or rename it')
    return labels


def build_positions(
    table: CheckTable, path: KeyPath, axes: tuple[Axis, ...], source: Source
) -> tuple[Position, ...]:
    """Return every position in work order, with its labels in the order of the axes.

    With ``order = "ring by ring"`` all positions of one ring come before the next ring; by default the
    first axis is the outer one.

    Raises:
        PlanError: the order doesn't name an axis.
    """
    count = prod(len(axis.labels) for axis in axes)
    if count > MOST_POSITIONS:
        raise source.error(
            (*path, "axes"),
            f"its axes make {count} positions; write fewer labels, or several checks (at most "
            f"{MOST_POSITIONS} positions in one)",
        )
    outer = axes[0]
    if table.order is not None:
        orders = {f"{axis.name} by {axis.name}": axis for axis in axes}
        outer = orders[source.one_of((*path, "order"), table.order, orders, "order of this check")]
    nested = [outer, *(axis for axis in axes if axis is not outer)]
    positions = []
    for labels in product(*(axis.labels for axis in nested)):
        chosen = {axis.name: label for axis, label in zip(nested, labels, strict=True)}
        positions.append(Position(tuple((axis.name, chosen[axis.name]) for axis in axes)))
    return tuple(positions)
