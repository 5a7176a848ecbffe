"""The verdict on a reading: a state, an amount, and advice that `handsfree.speak` words."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum
from fractions import Fraction

from handsfree.length import Length, Unit, in_unit


class State(StrEnum):
    """State of a position.

    SHORT: below its lower limit. GOOD: within its limits. OVER: above its upper limit.
    UNCERTAIN: measured, but too near a limit for its uncertainty, or the readings contradict
    each other. OPEN: undecided by the leaves tried so far.
    """

    SHORT = "short"
    GOOD = "good"
    OVER = "over"
    UNCERTAIN = "uncertain"
    OPEN = "open"


class Advice(StrEnum):
    """The next step; `handsfree.speak` words it."""

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
    """Bounds on a value: at least `low` and at most `high` (None: unknown).

    With `below_high` the value is strictly less than `high`, as after a no-go leaf.
    """

    low: Length | None = None
    high: Length | None = None
    below_high: bool = False

    @classmethod
    def exactly(cls, value: Length) -> Bounds:
        """Return the bounds of an exact figure."""
        return cls(value, value)

    @classmethod
    def under(cls, leaf: Length) -> Bounds:
        """Return the bounds from a leaf that didn't go: the gap is less than it."""
        return cls(None, leaf, below_high=True)

    @classmethod
    def over(cls, leaf: Length) -> Bounds:
        """Return the bounds from a leaf that went: the gap is at least as large as it."""
        return cls(leaf, None)

    @property
    def is_exact(self) -> bool:
        """Whether they are one exact figure."""
        return (
            self.low is not None
            and self.high is not None
            and self.low.mm == self.high.mm
            and self.is_possible
        )

    @property
    def is_possible(self) -> bool:
        """Whether any value satisfies them: none does if a leaf goes and a thinner one doesn't."""
        if self.low is None or self.high is None:
            return True
        return self.low.mm < self.high.mm or (self.low.mm == self.high.mm and not self.below_high)

    def meet(self, other: Bounds) -> Bounds:
        """Return the intersection of two bounds, as from two leaves on the same unfiled ring."""
        low = max((end for end in (self.low, other.low) if end is not None), key=lambda e: e.mm, default=None)
        highs = [(b.high.mm, not b.below_high, b.high) for b in (self, other) if b.high is not None]
        if not highs:
            return Bounds(low, None)
        _, touches, high = min(highs, key=lambda end: end[:2])
        return Bounds(low, high, below_high=not touches)


@dataclass(frozen=True, slots=True)
class Verdict:
    """Result of judging one reading.

    remaining: the amount missing when short: up to the aim for a filed gap, up to the lower limit
        otherwise. excess: the amount above the upper limit when over.
    at_least: the amount is a lower bound (strictly more after a no-go leaf).
    remaining_mm, excess_mm: the same amounts, exact. In the unit of the bench a difference of figures in
        two units (0.45 mm to 18 thou) is rounded to six decimals for display.
    probability: the probability that the value conforms, if an uncertainty was given.
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
    """Return minuend minus subtrahend, in their common unit or else in `unit`.

    The result is exact for figures of one unit. For two units it is in `unit` (by default the
    subtrahend's), rounded to six decimals for display only.

    >>> from handsfree.length import length
    >>> str(difference(length("18"), length("15.5")))
    '2.5 thou'
    """
    if minuend.unit == subtrahend.unit and unit in (None, minuend.unit):
        return Length(minuend.value - subtrahend.value, minuend.unit)
    unit = unit or subtrahend.unit
    return Length(in_unit(minuend.mm - subtrahend.mm, unit), unit)
