"""What a reading means for its target: a state, an amount, and advice for the voice to word."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum
from fractions import Fraction

from handsfree.length import Length, Unit, in_unit


class State(StrEnum):
    """Where a position stands.

    SHORT: below its lower limit. GOOD: within its limits. OVER: above its upper limit.
    UNCERTAIN: measured, but too near a limit for its uncertainty, or the readings contradict
    each other. OPEN: the leaves tried so far don't decide it.
    """

    SHORT = "short"
    GOOD = "good"
    OVER = "over"
    UNCERTAIN = "uncertain"
    OPEN = "open"


class Advice(StrEnum):
    """What to do next; `handsfree.speak` words it."""

    NOTHING = "nothing"
    FILE = "file"
    OTHER_BORE_OR_NEW_RING = "other bore or new ring"
    BELOW_LIMIT = "below limit"
    ABOVE_LIMIT = "above limit"
    MEASURE_AGAIN = "measure again"
    TRY_THICKER = "try thicker leaf"
    TRY_THINNER = "try thinner leaf"


@dataclass(frozen=True, slots=True)
class Bounds:
    """What is known of a value: it is at least `low` and at most `high` (None: not known).

    With `below_high` it is truly less than `high`, as after a leaf that did not go in.
    """

    low: Length | None = None
    high: Length | None = None
    below_high: bool = False

    @classmethod
    def exactly(cls, value: Length) -> Bounds:
        """A value that was read as a figure."""
        return cls(value, value)

    @classmethod
    def under(cls, leaf: Length) -> Bounds:
        """A leaf that didn't go: the gap is less than it."""
        return cls(None, leaf, below_high=True)

    @classmethod
    def over(cls, leaf: Length) -> Bounds:
        """A leaf that went: the gap is at least as large as it."""
        return cls(leaf, None)

    @property
    def is_exact(self) -> bool:
        """Whether they hold one figure."""
        return (
            self.low is not None
            and self.high is not None
            and self.low.mm == self.high.mm
            and self.is_possible
        )

    @property
    def is_possible(self) -> bool:
        """Whether any value satisfies them; a leaf that goes and a thinner one that doesn't leave none."""
        if self.low is None or self.high is None:
            return True
        return self.low.mm < self.high.mm or (self.low.mm == self.high.mm and not self.below_high)

    def meet(self, other: Bounds) -> Bounds:
        """What is known when both hold, as of two leaves tried on the same unfiled ring."""
        low = max((end for end in (self.low, other.low) if end is not None), key=lambda e: e.mm, default=None)
        highs = [(b.high.mm, not b.below_high, b.high) for b in (self, other) if b.high is not None]
        if not highs:
            return Bounds(low, None)
        _, touches, high = min(highs, key=lambda end: end[:2])
        return Bounds(low, high, below_high=not touches)


@dataclass(frozen=True, slots=True)
class Verdict:
    """The answer to one reading.

    remaining: what is missing when short: up to the aim for a gap that is filed, up to the lower
        limit otherwise. excess: what is too much when over, above the upper limit.
    at_least: the amount is only the least that it can be (strictly more after a leaf that didn't
        go); the true one is larger.
    remaining_mm, excess_mm: the same amounts exactly. In the unit of the bench an amount between
        figures of two units is rounded at six decimals for showing (0.45 mm to 18 thou).
    probability: the chance that the value conforms, where an uncertainty was given.
    """

    state: State
    bounds: Bounds
    advice: Advice
    remaining: Length | None = None
    excess: Length | None = None
    at_least: bool = False
    remaining_mm: Fraction | None = None
    excess_mm: Fraction | None = None
    probability: float | None = None


def difference(minuend: Length, subtrahend: Length, unit: Unit | None = None) -> Length:
    """Give minuend less subtrahend, in their common unit or else in `unit`.

    Two figures of one unit give an exact figure. Of two units the result is given in `unit` (by
    default the subtrahend's) and rounded there at six decimals, for showing only.

    >>> from handsfree.length import length
    >>> str(difference(length("18"), length("15.5")))
    '2.5 thou'
    """
    if minuend.unit == subtrahend.unit and unit in (None, minuend.unit):
        return Length(minuend.value - subtrahend.value, minuend.unit)
    unit = unit or subtrahend.unit
    return Length(in_unit(minuend.mm - subtrahend.mm, unit), unit)
