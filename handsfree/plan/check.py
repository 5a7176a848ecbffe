"""One check of a plan: its rule, its positions in work order, and what each is to become."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from enum import StrEnum
from fractions import Fraction

from handsfree.length import Length, Unit
from handsfree.plan.assumptions import Instrument
from handsfree.plan.position import Position
from handsfree.plan.target import Recipe, Target

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
    given: its size where it isn't read but known from the plan; such a part has no positions.
    """

    name: str
    times: Fraction
    nominal: Length | None = None
    given: Length | None = None
    instrument: Instrument | None = None


@dataclass(frozen=True, slots=True)
class Share:
    """That the rings of a check are all tried in one bore, to be shared out before any is filed.

    to: the check of gaps that they are for. tried_in: the label of the cylinder they are tried in.
    like: axes and labels that say which of its rings they are (ring top).
    """

    to: str
    tried_in: str
    like: tuple[tuple[str, str], ...]


@dataclass(frozen=True, slots=True)
class Check:
    """A check with its positions in work order; positions of a difference or shim name their part too.

    items: the positions without their parts, each once, in work order: what has a target.
    targets, recipes: for each item, what it is to become and how that came about.
    windows: the inclusive plausible window of every position.
    parts: of a difference or shim. The last part of a shim check is the lash; the others add up
        to the old shim.
    shims: the sizes that can be had, smallest first. reuse: whether a shim that comes out of one
        item may go into another.
    bores_from, gap_at: the check that measures the bores, and the label there at which gaps are
        taken.
    signed: whether readings may be below zero. correlation: between the errors of the parts.
    share: what is done with rings that are all tried in one bore.
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
        """Give the position without its part: that which has the target.

        A check of direct readings gives the position itself.
        """
        if not self.parts:
            return position
        return Position(tuple(pair for pair in position.labels if pair[0] != PART))

    def at_part(self, item: Position, part: str) -> Position:
        """Give the position at which a part of an item is read."""
        return Position((*item.labels, (PART, part)))

    @property
    def read_parts(self) -> tuple[Part, ...]:
        """The parts that are measured, leaving out those whose size the plan gives."""
        return tuple(part for part in self.parts if part.given is None)

    def part(self, name: str) -> Part:
        """Give the part of that name.

        Raises:
            KeyError: there is none.
        """
        for part in self.parts:
            if part.name == name:
                return part
        raise KeyError(name)

    def instrument_for(self, position: Position) -> Instrument | None:
        """Give what measures at `position`, or None where the plan doesn't say."""
        name = position.get(PART)
        own = self.part(name).instrument if name is not None and self.parts else None
        return own or self.instrument

    def unit_at(self, position: Position) -> Unit:
        """Give the unit of a bare number at `position`: that of a part's nominal size, or the check's."""
        name = position.get(PART)
        if name is None or not self.parts:
            return self.unit
        nominal = self.part(name).nominal
        return self.unit if nominal is None else nominal.unit

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
