"""Checks of several readings: the difference of parts, and the shim that sets a lash."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from fractions import Fraction

from handsfree.judge.reading import SIMPLE, judge_reading, sum_standard_mm
from handsfree.judge.verdict import State, Verdict
from handsfree.length import Length, Unit, in_unit
from handsfree.plan import Certainty, Check, Part, Rule, Target

_INCHES = frozenset({Unit.THOU, Unit.INCH})


def exact_length(mm: Fraction, likes: set[Unit], unit: Unit) -> Length:
    """Return an exact length in `unit` if a decimal there is exact, else in millimetres.

    Figures in inch units add up exactly in any inch unit, metric figures in any metric unit; mixed sums
    are exact in millimetres, as 0.001 in is 0.0254 mm.
    """
    if unit in _INCHES and likes - _INCHES:
        unit = Unit.MM
    return Length(in_unit(mm, unit, places=15), unit)


def sum_of_parts(check: Check, readings: Mapping[str, Length]) -> Length | None:
    """Return the exact sum of a difference's parts, or None while one is missing.

    Args:
        check: a check with parts; parts with a size in the plan need no reading.
        readings: the standing reading of each part, by name.

    Source: c = H - 2 t - J and the like, by the definition of a clearance on the diameter. Worked
    example: housing 2.2250, shells 0.0612 twice, journal 2.1000 in: 0.0026 in, 2.6 thou.
    """
    total, units = Fraction(0), set()
    for part in check.parts:
        size = part.given or readings.get(part.name)
        if size is None:
            return None
        total += part.times * size.mm
        units.add(size.unit)
    return exact_length(total, units, check.unit)


def parts_standard_mm(check: Check) -> float | None:
    """Return the standard uncertainty of the sum of parts, or None if an instrument isn't stated.

    A size from the plan counts as exact.

    Source: `sum_standard_mm`.
    """
    terms = []
    for part in check.read_parts:
        instrument = part.instrument or check.instrument
        if instrument is None:
            return None
        terms.append((float(part.times), instrument.standard_mm))
    return sum_standard_mm(terms, check.correlation)


def judge_parts(
    check: Check, target: Target, readings: Mapping[str, Length], certainty: Certainty = SIMPLE
) -> tuple[Length, Verdict] | None:
    """Judge a difference, or None while a part is missing.

    Returns:
        The sum and its verdict against the target, with amounts in the unit of the check.
    """
    value = sum_of_parts(check, readings)
    if value is None:
        return None
    return value, judge_reading(target, value, Rule.DIFFERENCE, check.unit, certainty)


@dataclass(frozen=True, slots=True)
class ShimChoice:
    """A lash, and the shim to fit.

    lash: as measured, with its `verdict`. ideal: the shim that would give the aim exactly. choice: the size
    to fit; None if no available shim brings the lash within its limits, or if the lash is uncertain and must
    be measured again first. predicted: the lash with it. change: whether the present shim must be replaced.
    """

    lash: Length
    verdict: Verdict
    ideal: Length
    choice: Length | None
    predicted: Length | None
    change: bool


def pick_shim(
    target: Target,
    old: Length,
    lash: Length,
    sizes: tuple[Length, ...],
    unit: Unit | None = None,
    certainty: Certainty = SIMPLE,
) -> ShimChoice:
    """Return the shim that brings a lash nearest to the middle of its limits.

    new = old + measured - target; predicted lash = old + measured - new. A good lash keeps its shim. An
    uncertain lash is measured again before anything is changed. Of two equally near sizes the thinner is
    chosen, as it opens the lash.

    The size nearest to the middle is also the likeliest to conform. The result is judged by the lash read
    with the new shim, not by the prediction.

    Args:
        target: the wanted lash, with inclusive limits.
        old: the present shim (or the sum of washers), measured, since a worn mark may mislead.
        lash: the lash (or float) with it.
        sizes: the available sizes.
        unit: the unit of computed figures; without it that of `lash`.
        certainty: trust in the lash, as for `judge_reading`.

    Source: the definition of lash: gap and shim share one fixed space. Worked examples: old 2.60,
    lash 0.15, wanted 0.20 mm: 2.55. Old 2.72, lash 0.11, limits 0.13 to 0.19: ideal 2.67; 2.65
    gives 0.18 and 2.70 gives 0.13, on the edge: 2.65.
    """
    unit = unit or lash.unit
    space = old.mm + lash.mm
    units = {old.unit, lash.unit}
    verdict = judge_reading(target, lash, Rule.SHIM, unit, certainty)
    middle = (target.lower.mm + target.upper.mm) / 2
    ideal = exact_length(space - middle, units | {target.lower.unit, target.upper.unit}, unit)
    if verdict.state is State.UNCERTAIN:
        return ShimChoice(lash, verdict, ideal, None, None, change=False)
    if verdict.state is State.GOOD:
        return ShimChoice(lash, verdict, ideal, old, lash, change=False)
    fitting = [size for size in sizes if target.lower.mm <= space - size.mm <= target.upper.mm]
    if not fitting:
        return ShimChoice(lash, verdict, ideal, None, None, change=True)
    choice = min(fitting, key=lambda size: (abs(space - size.mm - middle), size.mm))
    predicted = exact_length(space - choice.mm, units | {choice.unit}, unit)
    return ShimChoice(lash, verdict, ideal, choice, predicted, change=choice.mm != old.mm)


def judge_shim(
    check: Check,
    target: Target,
    readings: Mapping[str, Length],
    to_hand: tuple[Length, ...] = (),
    certainty: Certainty = SIMPLE,
) -> ShimChoice | None:
    """Return the shim for a check's readings, or None while one is missing.

    The last part is the lash; the others add up to the present shim. to_hand: used shims at hand, besides
    the available sizes; of two equally good ones the shim at hand is chosen.
    """
    *shims, lash = check.parts
    measured = readings.get(lash.name)
    old = _sum(shims, readings, check.unit)
    if measured is None or old is None:
        return None
    return pick_shim(target, old, measured, (*to_hand, *check.shims), check.unit, certainty)


def _sum(parts: list[Part], readings: Mapping[str, Length], unit: Unit) -> Length | None:
    total, units = Fraction(0), set()
    for part in parts:
        size = part.given or readings.get(part.name)
        if size is None:
            return None
        total += part.times * size.mm
        units.add(size.unit)
    return exact_length(total, units, unit)
