"""Feeler leaves: the best stack for a size, and the next one to try."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction
from functools import lru_cache
from itertools import combinations

from handsfree.judge.verdict import Bounds
from handsfree.length import Length, Unit, in_unit
from handsfree.plan import Target

MOST = 3  # leaves in a stack; every joint adds film, bow and dirt
STEP_DOWN = Fraction(4, 5)  # of a no-go leaf, to find the gap from below [common practice, no source]


@dataclass(frozen=True, slots=True)
class Stack:
    """Leaves that add up to a size, thickest first."""

    size: Length
    leaves: tuple[Length, ...]

    @property
    def size_mm(self) -> Fraction:
        """Thickness in exact millimetres."""
        return self.size.mm

    def standard_mm(self, leaf_mm: float) -> float:
        """Standard uncertainty, if each leaf has `leaf_mm` and they are independent."""
        return leaf_mm * math.sqrt(len(self.leaves))


@lru_cache(maxsize=8)
def stacks(leaves: tuple[Length, ...], most: int = MOST) -> tuple[Stack, ...]:
    """Return the best stack for every size that at most `most` leaves can make, in order of size.

    The best stack has the fewest leaves; among equals, the thickest thinnest leaf, since thin leaves
    crumple. Sums are exact, in whole parts of a millimetre.

    Source: leaf counts checked against scipy.optimize.milp. Worked example: of 1.5, 2, 2.5, 3, 4,
    5, 6, 8, 10, 12, 15, 20, 25 thou: 18 is 10 + 8, 19 is 15 + 4, 21.5 is 20 + 1.5, 18.5 takes three.
    """
    parts = 1
    for leaf in leaves:
        parts = math.lcm(parts, leaf.mm.denominator)
    whole = [int(leaf.mm * parts) for leaf in leaves]
    best: dict[int, tuple[int, ...]] = {}
    for count in range(1, min(most, len(leaves)) + 1):
        for chosen in combinations(range(len(leaves)), count):
            size = sum(whole[index] for index in chosen)
            held = best.get(size)
            if held is None or (
                len(held) == count and min(whole[i] for i in chosen) > min(whole[i] for i in held)
            ):
                best[size] = chosen
    units = {leaf.unit for leaf in leaves}
    unit = units.pop() if len(units) == 1 else Unit.MM
    return tuple(
        Stack(
            Length(in_unit(Fraction(size, parts), unit, places=15), unit),
            tuple(sorted((leaves[index] for index in best[size]), key=lambda leaf: -leaf.mm)),
        )
        for size in sorted(best)
    )


def stack_for(size: Length, leaves: Sequence[Length], most: int = MOST) -> Stack | None:
    """Return the best stack of exactly `size`, or None if the drawer can't make it."""
    for stack in stacks(tuple(leaves), most):
        if stack.size_mm == size.mm:
            return stack
    return None


def next_stack(bounds: Bounds, target: Target, leaves: Sequence[Length], most: int = MOST) -> Stack | None:
    """Return the leaf or stack to try next, or None if no other adds information.

    The first question is whether the gap is large enough: the size of the lower limit, or the next above
    it. The second is whether it is too large: the largest size up to the upper limit, which must not go. If
    a ring is known to be short, smaller sizes narrow down its gap.

    Args:
        bounds: bounds from earlier leaves; empty before the first.
        target: the limits of the gap.
        leaves: the leaves in the drawer.
        most: leaves in one stack.

    Worked example: limits 18 to 19.5 thou. Nothing known: try 18. It goes: try 19.5. That doesn't go:
    the gap is from 18 to below 19.5, and good.
    """
    low = None if bounds.low is None else bounds.low.mm
    high = None if bounds.high is None else bounds.high.mm
    telling = [
        stack
        for stack in stacks(tuple(leaves), most)
        if (low is None or stack.size_mm > low) and (high is None or stack.size_mm < high)
    ]
    if not telling or not bounds.is_possible:
        return None
    lower, upper = target.lower.mm, target.upper.mm
    if low is None or low < lower:
        if high is None or high > lower:
            at_least = [stack for stack in telling if lower <= stack.size_mm <= upper]
            if at_least:
                return at_least[0]
        return _nearest(telling, _halfway(low, high, lower))
    if low > upper:
        return None  # over, whatever other leaves would show
    up_to = [stack for stack in telling if stack.size_mm <= upper]
    if up_to and (high is None or high > upper):
        return up_to[-1]
    above = [stack for stack in telling if stack.size_mm > upper]
    return above[0] if above and (high is None or high > upper) else None


def _halfway(low: Fraction | None, high: Fraction | None, lower: Fraction) -> Fraction:
    if high is None:
        return lower
    return high * STEP_DOWN if low is None else (low + high) / 2


def _nearest(telling: Sequence[Stack], size: Fraction) -> Stack:
    return min(telling, key=lambda stack: (abs(stack.size_mm - size), stack.size_mm))
