"""Assignment of rings to bores: predicted gaps, and the assignment with the least filing.

A prediction is an estimate, a float in millimetres; only a reading in the bore itself counts.

Whether a ring will butt when hot: an estimate from assumed temperatures, never a target.

The result depends on temperatures that nobody at a bench knows, so it is a range; the ring maker's figure
overrides it.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from decimal import Decimal
from fractions import Fraction

from handsfree.length import Length
from handsfree.plan import PI, Hot, Target


def predicted_gap_mm(gap: Length, measured_in: Length, bore: Length) -> float:
    """Return a ring's predicted gap in another bore, in millimetres.

    G_j = G + pi * (D_j - D), as the ring's own length stays.

    Source: geometry of the circle. Worked example: 17.2 thou in 4.0300 in gives 17.2 + pi * 0.4 =
    18.457 thou in 4.0304 in.
    """
    return float(gap.mm) + math.pi * float(bore.mm - measured_in.mm)


@dataclass(frozen=True, slots=True)
class Assignment:
    """A ring in a bore: its predicted gap there, and the amount to file up to the aim."""

    ring: str
    bore: str
    gap_mm: float
    left_mm: float


@dataclass(frozen=True, slots=True)
class Fitting:
    """Rings assigned to bores. spare: rings without a bore; empty: bores without a ring."""

    places: tuple[Assignment, ...]
    spare: tuple[str, ...]
    empty: tuple[str, ...]

    @property
    def cost_mm2(self) -> float:
        """Sum of the squares of the amounts to file."""
        return sum(place.left_mm**2 for place in self.places)


def other_bores(
    gap: Length,
    measured_in: Length,
    bores: Mapping[str, Length],
    targets: Mapping[str, Target],
    standard_mm: float = 0.0,
) -> tuple[Assignment, ...]:
    """Return the bores that a ring found over would still fit, the best first.

    A bore fits if the predicted gap there is at most its upper limit less twice the standard uncertainty of
    the reading; the bore with the least to file comes first.

    Args:
        gap: the gap as read.
        measured_in: the bore in which it was read.
        bores: the bores still without a ring, by label.
        targets: the ring's target in each of them.
        standard_mm: standard uncertainty of the reading in millimetres.
    """
    places = []
    for label, bore in bores.items():
        predicted = predicted_gap_mm(gap, measured_in, bore)
        if predicted + 2 * standard_mm <= float(targets[label].upper.mm):
            left = max(0.0, float(targets[label].aim.mm) - predicted)
            places.append(Assignment("", label, predicted, left))
    return tuple(sorted(places, key=lambda place: (place.left_mm, place.gap_mm)))


def fit_rings(
    gaps: Mapping[str, Length],
    measured_in: Length,
    bores: Mapping[str, Length],
    targets: Mapping[str, Target],
) -> Fitting:
    """Return the assignment of rings to bores that wastes the fewest rings, then files the least.

    The cost of a ring in a bore is the square of the amount to file there; the plain sum is the same for
    every assignment, since pi times the bores always has the same sum. A ring whose predicted gap is above
    the upper limit can't go there, since filing can't make the gap smaller.

    Args:
        gaps: each ring's gap, all read in one bore.
        measured_in: that bore.
        bores: every bore that needs a ring, by label.
        targets: a ring's target in each bore.

    Source: the assignment problem, by the Hungarian method; checked against
    scipy.optimize.linear_sum_assignment. Worked example: rings of 14.0, 15.5, 13.0, 17.2 thou in
    4.0300 in, bores 4.0300, 4.0304, 4.0297, 4.0301, aim and upper limit 18.0: rings 1 to 4 go to bores
    4, 1, 2, 3 and leave 3.686, 2.500, 3.743, 1.742 thou.
    """
    rings, labels = list(gaps), list(bores)
    if not rings or not labels:
        return Fitting((), tuple(rings), tuple(labels))
    table = [
        [_place(ring, label, gaps[ring], measured_in, bores[label], targets[label]) for label in labels]
        for ring in rings
    ]
    # One wasted ring costs more than any amount of filing.
    waste = 1.0 + sum(max((p.left_mm**2 for p in row if p is not None), default=0.0) for row in table)
    costs = [[waste if place is None else place.left_mm**2 for place in row] for row in table]
    chosen = [table[row][column] for row, column in _assignment(costs)]
    places = tuple(place for place in chosen if place is not None)
    used, filled = {place.ring for place in places}, {place.bore for place in places}
    return Fitting(
        places,
        tuple(ring for ring in rings if ring not in used),
        tuple(label for label in labels if label not in filled),
    )


def _place(
    ring: str, label: str, gap: Length, measured_in: Length, bore: Length, target: Target
) -> Assignment | None:
    predicted = predicted_gap_mm(gap, measured_in, bore)
    # A prediction equal to the limit is allowed; the rounding of a float must not exclude it.
    if predicted > float(target.upper.mm) + 1e-9:
        return None
    return Assignment(ring, label, predicted, max(0.0, float(target.aim.mm) - predicted))


def _assignment(costs: Sequence[Sequence[float]]) -> list[tuple[int, int]]:
    """Return the pairs (row, column) of least total cost, by row: as many as the shorter side has.

    Source: the Hungarian method with shortest augmenting paths (Kuhn 1955, Jonker and Volgenant 1987), from
    memory.
    """
    if len(costs) > len(costs[0]):
        turned = _assignment([list(column) for column in zip(*costs, strict=True)])
        return sorted((row, column) for column, row in turned)
    columns = range(len(costs[0]))
    row_price, column_price = [0.0] * len(costs), [0.0] * len(columns)
    row_of: list[int | None] = [None] * len(columns)
    for start in range(len(costs)):
        distance, before = [math.inf] * len(columns), [-1] * len(columns)
        done: list[int] = []
        row, column, reached = start, -1, 0.0
        while True:  # the shortest way from this row to a free column
            for each in columns:
                further = reached + costs[row][each] - row_price[row] - column_price[each]
                if each not in done and further < distance[each]:
                    distance[each], before[each] = further, column
            column = min((each for each in columns if each not in done), key=distance.__getitem__)
            reached = distance[column]
            done.append(column)
            taken = row_of[column]
            if taken is None:
                break
            row = taken
        row_price[start] += reached
        for each in done[:-1]:
            column_price[each] += distance[each] - reached
            row_price[row_of[each] or 0] += reached - distance[each]
        while column >= 0:  # move every row on that way by one
            row_of[column] = start if before[column] < 0 else row_of[before[column]]
            column = before[column]
    return sorted((row, column) for column, row in enumerate(row_of) if row is not None)


REMARK = "an estimate from assumed temperatures; the maker's figure decides"


def closure_mm(bore: Length, hot: Hot, ring_rise: Decimal) -> Fraction:
    """Return the closing of the gap in exact millimetres.

    C = pi * D * (a_r * dT_r - a_b * dT_b): the growth of the ring's length less the growth of the bore's
    circumference. This is a simplified form; the exact one leaves G * a_r * dT_r more, so this errs on the
    safe side.

    Args:
        bore: diameter D, cold.
        hot: expansion a of ring and bore in 1/K, and the bore's rise of temperature in K.
        ring_rise: the ring's rise of temperature in K.

    Source: linear thermal expansion; coefficients as ``materials.toml`` says. Worked example:
    4.030 in, ductile iron (11e-6) up by 200 K in grey iron (10e-6) up by 90 K: 16.459 thou.
    """
    growth = Fraction(hot.ring.expansion) * Fraction(ring_rise)
    room = Fraction(hot.bore.expansion) * Fraction(hot.bore_rise)
    return PI * bore.mm * (growth - room)


@dataclass(frozen=True, slots=True)
class Closure:
    """The remaining gap when hot, from the greater to the lesser assumed rise of the ring.

    least_mm, most_mm: negative if the ends would meet. butts: the least is zero or below. short: the least
    is below the plan's margin. remark: the nature of the estimate, for display.
    """

    least_mm: Fraction
    most_mm: Fraction
    butts: bool
    short: bool
    remark: str = REMARK


def hot_gap(gap: Length, bore: Length, hot: Hot) -> Closure:
    """Return the estimate of a gap in a running engine; see `closure_mm`.

    Worked example: 18.135 thou in 4.030 in at 200 K leaves 18.135 - 16.459 = 1.676 thou; at 240 K
    it would be 3.894 thou short of not butting.
    """
    least, most = (gap.mm - closure_mm(bore, hot, rise) for rise in reversed(hot.ring_rise))
    return Closure(least, most, least <= 0, least < hot.margin.mm)


def butting_rise(gap: Length, bore: Length, hot: Hot) -> Fraction:
    """Return the ring's rise of temperature at which its ends would meet, in K.

    dT_r = (G / (pi * D) + a_b * dT_b) / a_r. Worked example: row 1 of the above, 212.0 K.
    """
    room = Fraction(hot.bore.expansion) * Fraction(hot.bore_rise)
    return (gap.mm / (PI * bore.mm) + room) / Fraction(hot.ring.expansion)
