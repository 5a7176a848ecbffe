"""A place on the engine where something is measured: named axes with their labels."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

QUESTION = "question"
"""The axis of questions whose answers are no measurements: a first plan is made of them."""


@dataclass(frozen=True, slots=True, order=True)
class Position:
    """Axis names with labels in the plan's order, such as cylinder 3, ring top.

    A position that lacks some of its check's axes is partial: the person named a cylinder and
    left the ring to be understood.
    """

    labels: tuple[tuple[str, str], ...]

    @classmethod
    def of(cls, labels: Mapping[str, str]) -> Position:
        """Make a position from a mapping, keeping its order."""
        return cls(tuple(labels.items()))

    def get(self, axis: str) -> str | None:
        """Give the label on `axis`, or None where this position doesn't name it."""
        return dict(self.labels).get(axis)

    def within(self, hand: Position) -> Position:
        """Fill what this position leaves open from the one in hand.

        >>> str(Position.of({"cylinder": "4"}).within(Position.of({"cylinder": "3", "ring": "top"})))
        'cylinder 4, ring top'
        """
        return Position(tuple((axis, self.get(axis) or label) for axis, label in hand.labels))

    @property
    def key(self) -> str:
        """One line that names the position, fit for journals and tables: ``cylinder 3, ring top``."""
        return ", ".join(f"{axis} {label}" for axis, label in self.labels)

    def __str__(self) -> str:
        return self.key
