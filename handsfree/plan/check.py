"""One check of a plan: its rule, its positions in work order, and what each is to become."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from enum import StrEnum
from fractions import Fraction

from handsfree.length import Length, Unit
from handsfree.plan.position import Position
from handsfree.plan.target import Target

PART = "part"


class Rule(StrEnum):
    """What is done with the readings of a check.

    FILE_TO_GAP: the gap grows by filing and can't be made smaller. LIMITS: a direct reading
    between two limits. DIFFERENCE: the limits hold for a sum of parts that are read one by one
    (housing less journal). SHIM: a shim is picked from its old size and the lash. TICK: done or
    not done.
    """

    FILE_TO_GAP = "file to gap"
    LIMITS = "limits"
    DIFFERENCE = "difference"
    SHIM = "shim"
    TICK = "tick"


@dataclass(frozen=True, slots=True)
class Axis:
    """A named axis of positions (cylinder, ring, main, valve) and its labels in order."""

    name: str
    labels: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Part:
    """One of the readings that a difference or a shim is made of.

    times: what it is multiplied by before adding (housing +1, shell -2, journal -1).
    nominal: about what it should read; it decides which of several meanings is plausible.
    given: its size where it isn't read but known from the plan.
    """

    name: str
    times: Fraction
    nominal: Length | None = None
    given: Length | None = None
    instrument: str | None = None


@dataclass(frozen=True, slots=True)
class Check:
    """A check with its positions in work order; positions of a difference or shim name their part too.

    `targets` holds one target for each item, which is a position without its part. `windows`
    holds the inclusive plausible window of every position.
    """

    name: str
    rule: Rule
    unit: Unit
    axes: tuple[Axis, ...]
    positions: tuple[Position, ...]
    targets: Mapping[Position, Target] = field(hash=False, repr=False)
    windows: Mapping[Position, tuple[Length, Length]] = field(hash=False, repr=False)
    parts: tuple[Part, ...] = ()

    def item(self, position: Position) -> Position:
        """Give the position without its part: that which has the target.

        A check of direct readings gives the position itself.
        """
        if not self.parts:
            return position
        return Position(tuple(pair for pair in position.labels if pair[0] != PART))

    @property
    def items(self) -> tuple[Position, ...]:
        """The items in work order, each once."""
        return tuple(dict.fromkeys(self.item(position) for position in self.positions))

    def target(self, position: Position) -> Target:
        """Give what `position` is to become.

        Raises:
            KeyError: the check has no such position, or is one to tick, which has no target.
        """
        return self.targets[self.item(position)]

    def window(self, position: Position) -> tuple[Length, Length]:
        """Give the inclusive plausible window of a reading at `position`.

        It decides between several meanings of an ambiguous number ("one eight five"). It may
        reject a meaning; it never changes one.

        Raises:
            KeyError: the check has no such position, or is one to tick.
        """
        return self.windows[position]
