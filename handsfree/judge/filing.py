"""Learning from filing: the removal of one turn, and the safe number of turns before measuring again.

Lengths become floats here, in millimetres, for the statistics; no reading is stored in one.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from decimal import Decimal
from enum import StrEnum
from fractions import Fraction

from handsfree.judge.quantiles import student_quantile
from handsfree.judge.verdict import difference
from handsfree.length import Length, Unit
from handsfree.plan import Target

RECENT = 12  # passes; a stone glazes, so older ones mislead [common practice, no source]
FEWEST = 3  # passes needed to estimate the scatter
EARLY_SHARE = Fraction(1, 2)  # of the remaining amount, with fewer passes [common practice, no source]
LONGEST = 2  # times the longest pass so far: beyond it nothing is known [common practice, no source]


@dataclass(frozen=True, slots=True)
class Pass:
    """Turns of the filer between two readings of one ring, and their removal (may be negative)."""

    turns: Decimal
    removed_mm: Fraction


@dataclass(frozen=True, slots=True)
class Rate:
    """Removal learned from passes with one wheel on one kind of ring.

    per_turn_mm: removal of one turn, exact. scatter_mm: residual standard deviation of a pass, or None
    for a single pass. square_sum: sum of the squared turns. longest: most turns in a pass.
    """

    per_turn_mm: Fraction
    scatter_mm: float | None
    square_sum: Fraction
    longest: Decimal
    passes: int


def learn(passes: Sequence[Pass]) -> Rate | None:
    """Return the removal of one turn, by least squares through zero over the most recent passes.

    k = sum(n r) / sum(n^2), s^2 = sum((r - k n)^2) / (passes - 1).

    Args:
        passes: oldest first, of one ring material, user and tool, with one wheel since it was last dressed.

    Returns:
        The rate, or None if there is no pass or nothing was removed.

    Source: least squares through the origin, as in any text on regression; checked against
    numpy's and scipy's. Worked example: 10, 10, 8 and 6 turns removed 1.6, 1.4, 1.3 and 0.9 thou:
    k = 45.8 / 300 = 0.152667 thou a turn, s = 0.09638 thou with 3 degrees of freedom.
    """
    recent = [one for one in passes if one.turns > 0][-RECENT:]
    if not recent:
        return None
    turns = [Fraction(one.turns) for one in recent]
    squares = sum((n * n for n in turns), Fraction(0))
    rate = sum((n * one.removed_mm for n, one in zip(turns, recent, strict=True)), Fraction(0)) / squares
    if rate <= 0:
        return None
    scatter = None
    if len(recent) > 1:
        rest = sum((float(one.removed_mm - rate * n) ** 2 for n, one in zip(turns, recent, strict=True)), 0.0)
        scatter = math.sqrt(rest / (len(recent) - 1))
    return Rate(rate, scatter, squares, max(one.turns for one in recent), len(recent))


def removal_bound_mm(rate: Rate, turns: int, risk: float) -> float:
    """Return the upper bound of the removal by `turns`, exceeded with probability `risk`.

    k m + t s sqrt(1 + m^2 / sum(n^2)), with t the one-sided quantile of Student's distribution:
    the prediction interval of one more pass.

    Raises:
        ValueError: the rate rests on a single pass, which has no scatter.

    Source: prediction interval of regression through the origin, as in any text on regression.
    Worked example: with the rate of `learn`, 20 turns remove at most 3.400 thou at 5 %, 21 turns
    3.562.
    """
    if rate.scatter_mm is None:
        raise ValueError("one pass shows no scatter")
    spread = rate.scatter_mm * math.sqrt(1 + turns * turns / rate.square_sum)
    return float(rate.per_turn_mm) * turns + student_quantile(1 - risk, rate.passes - 1) * spread


def safe_turns(rate: Rate, room_mm: float, risk: float) -> int:
    """Return the most whole turns that remove at most `room_mm`, except with probability `risk`.

    This is the plain prediction interval; `advise_pass` is more cautious.

    Worked example: with the rate of `learn` and 3.5 thou of room, 20 turns; with half a thou kept
    back for the reading, 17.
    """
    return _most_turns(lambda turns: removal_bound_mm(rate, turns, risk), room_mm, 10_000)


class PassBasis(StrEnum):
    """Basis of the advice on the next pass.

    UNKNOWN: no pass yet; make a short one and measure. EARLY: too few passes to know their scatter.
    LEARNED: the rate is known; more passes will follow. LAST: this pass should reach the aim.
    BY_HAND: a whole turn is no longer safe; take a stroke by hand and measure.
    """

    UNKNOWN = "unknown"
    EARLY = "early"
    LEARNED = "learned"
    LAST = "last"
    BY_HAND = "by hand"


@dataclass(frozen=True, slots=True)
class PassAdvice:
    """The amount left, and the turns to file before measuring again.

    to_go: amount up to the aim. about: whole turns for that, or None while the rate is unknown. turns:
    turns before the next measurement. risk: probability that they end above the upper limit, None if
    unknown. left_mm: expected amount left after them.
    """

    basis: PassBasis
    to_go: Length
    about: int | None = None
    turns: int | None = None
    risk: float | None = None
    left_mm: Fraction | None = None


def advise_pass(
    rate: Rate | None,
    target: Target,
    reading: Length,
    risk: float = 0.05,
    standard_mm: float | None = None,
    unit: Unit | None = None,
) -> PassAdvice | None:
    """Return the next pass for a ring that is short of its aim, or None if it isn't.

    The pass aims to reach the aim if, except with probability `risk`, it stays below the middle between aim
    and upper limit; else it is the longest that stays below the aim; if a single turn is too much for that,
    the longest that stays below the upper limit. Cautions beyond the plain prediction interval, each tested
    in simulation: the scatter of an unusually long pass is raised in proportion; the scatter is at least
    that of two readings; a pass has at most twice the turns of the longest so far. With fewer than three
    passes: at most half of the remaining amount [common practice, no source].

    Args:
        rate: the learned rate, or None.
        target: the ring's target.
        reading: its current reading.
        risk: acceptable probability of ending above the upper limit.
        standard_mm: standard uncertainty of a reading in millimetres, if stated.
        unit: unit of `to_go`; without it the reading's.
    """
    to_aim = target.aim.mm - reading.mm
    if to_aim <= 0 or reading.mm >= target.lower.mm:
        return None
    to_go = difference(target.aim, reading, unit or reading.unit)
    if rate is None:
        return PassAdvice(PassBasis.UNKNOWN, to_go)
    about = max(1, round(to_aim / rate.per_turn_mm))
    enough = max(1, math.ceil(to_aim / rate.per_turn_mm))
    longest = int(rate.longest * LONGEST)
    to_upper = float(target.upper.mm - reading.mm)
    if rate.passes < FEWEST or rate.scatter_mm is None:
        return _early(rate, to_go, about, to_aim, to_upper, min(longest, enough), standard_mm)

    def bound(turns: int) -> float:
        return _cautious_bound_mm(rate, turns, risk, standard_mm)

    turns = _most_turns(bound, float(to_aim), min(longest, enough))
    if enough <= longest and bound(enough) <= (float(to_aim) + to_upper) / 2:
        turns = enough
    if turns == 0:
        turns = _most_turns(bound, to_upper, min(longest, enough))
    if turns == 0:
        return PassAdvice(PassBasis.BY_HAND, to_go, about, 0)
    basis = PassBasis.LAST if turns >= enough else PassBasis.LEARNED
    return PassAdvice(basis, to_go, about, turns, risk, to_aim - rate.per_turn_mm * turns)


def _early(
    rate: Rate,
    to_go: Length,
    about: int,
    to_aim: Fraction,
    to_upper: float,
    most: int,
    standard_mm: float | None,
) -> PassAdvice:
    """Advise from one or two passes: half of the amount left, at the greatest possible removal a turn."""
    # The errors of the two readings may hide most of a short pass's removal.
    hidden = 2 * math.sqrt(2) * (standard_mm or 0.0) / math.sqrt(rate.square_sum)
    per_turn = rate.per_turn_mm + Fraction(hidden)
    turns = min(int(to_aim * EARLY_SHARE / per_turn), most)
    if turns == 0 and 2 * per_turn <= to_upper:
        turns = 1
    if turns == 0:
        return PassAdvice(PassBasis.BY_HAND, to_go, about, 0)
    return PassAdvice(PassBasis.EARLY, to_go, about, turns, None, to_aim - rate.per_turn_mm * turns)


def _cautious_bound_mm(rate: Rate, turns: int, risk: float, standard_mm: float | None) -> float:
    """As `removal_bound_mm`, with more scatter for long passes and at least that of the readings."""
    scatter = max(rate.scatter_mm or 0.0, math.sqrt(2) * (standard_mm or 0.0))
    usual = math.sqrt(rate.square_sum / rate.passes)
    spread = scatter * max(1.0, turns / usual) * math.sqrt(1 + turns * turns / float(rate.square_sum))
    return float(rate.per_turn_mm) * turns + student_quantile(1 - risk, rate.passes - 1) * spread


def _most_turns(bound: Callable[[int], float], room_mm: float, most: int) -> int:
    turns = 0
    while turns < most and bound(turns + 1) <= room_mm:
        turns += 1
    return turns
