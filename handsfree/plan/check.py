"""One check of a plan: its rule, its positions in work order, and their targets.

A place of measurement on the engine: named axes with their labels.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from enum import StrEnum
from fractions import Fraction

from handsfree.length import Length, Unit
from handsfree.plan.assumptions import Instrument
from handsfree.plan.target import Recipe, Target

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


PART = "part"


class Rule(StrEnum):
    """Rule by which the readings of a check are judged.

    FILE_TO_GAP: the gap grows by filing and can't be made smaller. LIMITS: a direct reading
    between two limits. DIFFERENCE: the limits apply to a sum of parts that are read one by one
    (housing less journal). SHIM: a shim is chosen from the old shim and the lash. TICK: done or not done.
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
    """One part of a difference or a shim check.

    times: its multiplier in the sum (housing +1, shell -2, journal -1).
    nominal: its expected size; it decides between several meanings of a spoken number.
    given: its size if the plan states it; such a part isn't read and has no positions.
    """

    name: str
    times: Fraction
    nominal: Length | None = None
    given: Length | None = None
    instrument: Instrument | None = None


@dataclass(frozen=True, slots=True)
class Share:
    """Assignment of rings to bores before filing, after all were tried in one bore.

    to: the check of gaps that they are for. tried_in: the label of the cylinder they are tried in.
    like: axes and labels that select its kind of ring (ring top).
    """

    to: str
    tried_in: str
    like: tuple[tuple[str, str], ...]


@dataclass(frozen=True, slots=True)
class Check:
    """A check with its positions in work order; positions of a difference or shim include the part.

    items: the positions without their parts, each once, in work order. Each item has a target.
    targets, recipes: for each item its target, and the recipe of that.
    windows: the inclusive plausible window of every position.
    parts: of a difference or shim. The last part of a shim check is the lash; the others add up
        to the old shim.
    shims: the available sizes, smallest first. reuse: whether a shim that comes out of one item may go
        into another.
    bores_from, gap_at: the check that measures the bores, and the label of its depth at which gaps are
        measured.
    signed: whether readings may be negative. correlation: between the errors of the parts.
    share: how rings that are all tried in one bore are assigned.
    """

    name: str
    rule: Rule
    unit: Unit
    axes: tuple[Axis, ...]
    positions: tuple[Position, ...]
    items: tuple[Position, ...] = field(repr=False)
    targets: Mapping[Position, Target] = field(hash=False, repr=False)
    recipes: Mapping[Position, Recipe] = field(hash=False, repr=False)
    windows: Mapping[Position, tuple[Length, Length]] = field(hash=False, repr=False)
    parts: tuple[Part, ...] = ()
    shims: tuple[Length, ...] = field(default=(), repr=False)
    instrument: Instrument | None = None
    bores_from: str | None = None
    gap_at: str | None = None
    signed: bool = False
    correlation: float = 0.0
    share: Share | None = None
    reuse: bool = False

    def item(self, position: Position) -> Position:
        """Return the item of a position: the position without its part.

        For a check of direct readings this is the position itself.
        """
        if not self.parts:
            return position
        return Position(tuple(pair for pair in position.labels if pair[0] != PART))

    def at_part(self, item: Position, part: str) -> Position:
        """Return the position at which a part of an item is read."""
        return Position((*item.labels, (PART, part)))

    @property
    def read_parts(self) -> tuple[Part, ...]:
        """The parts that are measured; those with a size in the plan are left out."""
        return tuple(part for part in self.parts if part.given is None)

    def part(self, name: str) -> Part:
        """Return the part of that name.

        Raises:
            KeyError: there is none.
        """
        for part in self.parts:
            if part.name == name:
                return part
        raise KeyError(name)

    def instrument_for(self, position: Position) -> Instrument | None:
        """Return the instrument used at `position`, or None if the plan doesn't name one."""
        name = position.get(PART)
        own = self.part(name).instrument if name is not None and self.parts else None
        return own or self.instrument

    def unit_at(self, position: Position) -> Unit:
        """Return the unit of a bare number at `position`: that of a part's nominal size, or the check's."""
        name = position.get(PART)
        if name is None or not self.parts:
            return self.unit
        nominal = self.part(name).nominal
        return self.unit if nominal is None else nominal.unit

    def target(self, position: Position) -> Target:
        """Return the target of `position`.

        Raises:
            KeyError: the check has no such position, or is one to tick, which has no target.
        """
        return self.targets[self.item(position)]

    def window(self, position: Position) -> tuple[Length, Length]:
        """Return the inclusive plausible window of a reading at `position`.

        It decides between the meanings of an ambiguous number ("one eight five"). It may reject a
        meaning, but never changes one.

        Raises:
            KeyError: the check has no such position, or is one to tick.
        """
        return self.windows[position]
