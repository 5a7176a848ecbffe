"""Many places in few words: "three to eight top" instead of six names."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from itertools import pairwise

from handsfree.plan import Position


@dataclass(frozen=True, slots=True)
class Gathered:
    """Places that differ in one number, combined under one label; `count` is their number."""

    position: Position
    count: int


def gathered(positions: Iterable[Position]) -> list[Gathered]:
    """Combine places that differ only in their first number, in order of first occurrence.

    >>> tops = [Position.of({"cylinder": str(number), "ring": "top"}) for number in (3, 4, 5, 7)]
    >>> gathered([*tops, Position.of({"cylinder": "1", "ring": "second"})])[0].position.labels
    (('cylinder', '3 to 5 and 7'), ('ring', 'top'))
    """
    kinds: dict[tuple[tuple[str, str], ...], list[tuple[Position, int]]] = {}
    found: list[list[tuple[Position, int]]] = []
    for position in positions:
        at = next((n for n, (_, label) in enumerate(position.labels) if label.isdecimal()), None)
        if at is None:
            found.append([(position, 0)])
            continue
        axis = position.labels[at][0]
        kind = (*position.labels[:at], (axis, ""), *position.labels[at + 1 :])
        if kind not in kinds:
            kinds[kind] = []
            found.append(kinds[kind])
        kinds[kind].append((position, at))
    return [_one(group) for group in found]


def _one(group: Sequence[tuple[Position, int]]) -> Gathered:
    position, at = group[0]
    if len(group) == 1:
        return Gathered(position, 1)
    axis = position.labels[at][0]
    label = runs([each.labels[at][1] for each, _ in group])
    return Gathered(Position((*position.labels[:at], (axis, label), *position.labels[at + 1 :])), len(group))


def runs(labels: Sequence[str]) -> str:
    """Write whole numbers as ranges; other labels stay single.

    >>> runs(["3", "4", "5", "7"]), runs(["1", "2"]), runs(["8", "1"]), runs(["2B", "3"])
    ('3 to 5 and 7', '1 and 2', '1 and 8', '2B and 3')
    """
    if not all(label.isdecimal() for label in labels):
        return _listed(list(labels))
    numbers = sorted(int(label) for label in labels)
    starts = [0, *(n + 1 for n, (one, other) in enumerate(pairwise(numbers)) if other != one + 1)]
    parts = []
    for first, after in zip(starts, [*starts[1:], len(numbers)], strict=True):
        run = numbers[first:after]
        parts += [f"{run[0]} to {run[-1]}"] if len(run) > 2 else [str(number) for number in run]
    return _listed(parts)


def _listed(parts: Sequence[str]) -> str:
    return parts[0] if len(parts) == 1 else f"{', '.join(parts[:-1])} and {parts[-1]}"
