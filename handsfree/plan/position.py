"""A place of measurement on the engine: named axes with their labels."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

QUESTION = "question"
"""The axis of questions whose answers are no measurements: a first plan is made of them."""


@dataclass(frozen=True, slots=True, order=True)
class Position:
    """Axis names with labels in the plan's order, such as cylinder 3, ring top.

    A position that lacks some of its check's axes is partial: the person named a cylinder, say, but no
    ring.
    """

    labels: tuple[tuple[str, str], ...]

    @classmethod
    def of(cls, labels: Mapping[str, str]) -> Position:
        """Return a position from a mapping, keeping its order."""
        return cls(tuple(labels.items()))

    def get(self, axis: str) -> str | None:
        """Return the label on `axis`, or None if this position lacks it."""
        return dict(self.labels).get(axis)

    def within(self, hand: Position) -> Position:
        """Return this position with its missing axes filled from the one in hand.

        >>> str(Position.of({"cylinder": "4"}).within(Position.of({"cylinder": "3", "ring": "top"})))
        'cylinder 4, ring top'
        """
        return Position(tuple((axis, self.get(axis) or label) for axis, label in hand.labels))

    @property
    def key(self) -> str:
        """The position as one line for journals and tables: ``cylinder 3, ring top``."""
        return ", ".join(f"{axis} {label}" for axis, label in self.labels)

    def __str__(self) -> str:
        return self.key
