"""Simulated filing: rings with unknown rates, measured with noise, filed as advised."""

from __future__ import annotations

import math
import random
from dataclasses import dataclass
from decimal import Decimal
from fractions import Fraction

from handsfree.judge.filing import Pass, advise_pass, learn
from handsfree.length import Length, Unit, length, millimetres_per
from handsfree.plan import Target

THOU = millimetres_per(Unit.THOU)
TRIAL_TURNS = 5  # the first pass of a new wheel, which nothing advises
MOST_PASSES = 60


@dataclass(frozen=True)
class Shop:
    """How a shop works. All in thou or as a share.

    pressure: spread of a pass in proportion to its length. stroke: spread of a pass whatever its
    length. leaf: standard uncertainty of a reading. step: leaves tell this apart. wear: loss of
    the rate with each pass. spread: of the rate from ring to ring. own: every ring begins anew,
    with nothing learned. upper: the upper limit.
    """

    name: str
    pressure: float = 0.0
    stroke: float = 0.0
    leaf: float = 0.1
    step: float = 0.5
    wear: float = 0.0
    spread: float = 0.05
    own: bool = False
    upper: str = "19.5"


@dataclass(frozen=True)
class Outcome:
    """Shares of the rings, and passes for each ring. by_hand: left to the hand by the advice."""

    over: float
    by_hand: float
    passes: float


def file_rings(shop: Shop, rings: int, risk: float, rng: random.Random) -> Outcome:
    """File `rings` rings to 18 thou, eight to a wheel, always as advised."""
    target = Target(length("18"), length("18"), length(shop.upper))
    over = by_hand = passes = 0
    known: list[Pass] = []
    wheel = 0.0
    for number in range(rings):
        if number % 8 == 0:
            known, wheel = [], math.exp(rng.uniform(math.log(0.05), math.log(0.5)))
        if shop.own:
            known = []
        rate = wheel * math.exp(rng.gauss(0, shop.spread))
        gap = rng.uniform(4, 15)
        seen = _read(gap, shop, rng)
        made = 0
        while seen.mm < target.aim.mm and made < MOST_PASSES:
            learned = learn(known)
            turns = TRIAL_TURNS
            if learned is not None:
                advice = advise_pass(learned, target, seen, risk, shop.leaf * float(THOU))
                assert advice is not None
                assert advice.turns is not None
                turns = advice.turns
                if turns == 0:
                    by_hand += 1
                    break
            removed = rate * turns * (1 + rng.gauss(0, shop.pressure)) + rng.gauss(0, shop.stroke)
            gap += max(0.0, removed)
            rate *= 1 - shop.wear
            now = _read(gap, shop, rng)
            known.append(Pass(Decimal(turns), now.mm - seen.mm))
            seen, made = now, made + 1
        passes += made
        over += gap > float(target.upper.mm / THOU)
    return Outcome(over / rings, by_hand / rings, passes / rings)


def _read(gap: float, shop: Shop, rng: random.Random) -> Length:
    step = Fraction(str(shop.step))
    steps = round((gap + rng.gauss(0, shop.leaf)) / shop.step)
    value = steps * step
    return Length(Decimal(value.numerator) / Decimal(value.denominator), Unit.THOU)
