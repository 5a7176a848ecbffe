"""Contradictions in a plan whose figures are each plausible on their own."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from enum import StrEnum
from fractions import Fraction

from handsfree.judge.by_rule import certainty_of
from handsfree.judge.fitting import hot_gap
from handsfree.judge.leaves import stacks
from handsfree.judge.reading import acceptance_zone_mm
from handsfree.length import Unit, in_unit, plain
from handsfree.plan import Acceptance, Check, Plan, Position, Rule, SecondRing

# A tolerance should be at least this often the standard uncertainty [common practice, no source]
FEWEST_UNCERTAINTIES = 4


class Weight(StrEnum):
    """Severity of a finding: impossible, risky, or good to know."""

    CONTRADICTION = "contradiction"
    CAUTION = "caution"
    NOTE = "note"


@dataclass(frozen=True, slots=True)
class Finding:
    """One finding: its place, and a sentence with the fault and the remedy."""

    weight: Weight
    where: str
    sentence: str

    def __str__(self) -> str:
        return f"{self.weight}: {self.where}: {self.sentence}"


def findings(plan: Plan) -> tuple[Finding, ...]:
    """Return the findings of a plan, most severe first; a sentence about many items appears once."""
    found: dict[tuple[Weight, str, str], list[Position]] = {}
    for check in plan.checks:
        for weight, item, sentence in _of_check(plan, check):
            places = found.setdefault((weight, check.name, sentence), [])
            if item is not None:
                places.append(item)
    order = list(Weight)
    ranked = sorted(found.items(), key=lambda entry: order.index(entry[0][0]))
    return tuple(
        Finding(weight, _where(name, places), sentence) for (weight, name, sentence), places in ranked
    )


def _where(name: str, places: list[Position]) -> str:
    if not places:
        return name
    more = f" and {len(places) - 1} more" if len(places) > 1 else ""
    return f"{name}, {places[0]}{more}"


_Remark = tuple[Weight, Position | None, str]


def _of_check(plan: Plan, check: Check) -> Iterator[_Remark]:
    yield from _certainty(plan, check)
    yield from _usual(check)
    match check.rule:
        case Rule.FILE_TO_GAP:
            yield from _second_rings(plan, check)
            yield from _heat(plan, check)
            yield from _leaves(plan, check)
        case Rule.DIFFERENCE:
            yield from _nominal(check)
        case Rule.SHIM:
            yield from _shims(check)
        case _:
            pass


def _certainty(plan: Plan, check: Check) -> Iterator[_Remark]:
    """Yield limits that the instruments can't tell apart."""
    for item in check.items:
        target = check.targets.get(item)
        if target is None:
            continue
        standard = certainty_of(plan, check, item).standard_mm
        guarded = plan.acceptance is Acceptance.GUARDED
        if not standard:
            if guarded:
                yield (
                    Weight.CONTRADICTION,
                    item,
                    ("acceptance is guarded, but no instrument says how uncertain readings are; name one"),
                )
            continue
        width = float(target.upper.mm - target.lower.mm)
        if guarded:
            zone = acceptance_zone_mm(target, standard, plan.confidence)
            if zone is None:
                yield (
                    Weight.CONTRADICTION,
                    item,
                    (
                        f"no reading could be accepted at {plan.confidence:.0%}, as the limits "
                        "are closer than the "
                        "instrument can tell; use a better one, wider limits or simple acceptance"
                    ),
                )
            elif not zone[0] <= float(target.aim.mm) <= zone[1]:
                yield (
                    Weight.CONTRADICTION,
                    item,
                    (
                        f"the aim {target.aim} would be called uncertain; guarded acceptance takes "
                        f"{_zone(zone, check.unit)}, so aim there"
                    ),
                )
        elif width < FEWEST_UNCERTAINTIES * standard:
            yield (
                Weight.CAUTION,
                item,
                (
                    f"the limits {target.lower} to {target.upper} are close for an "
                    "instrument with a standard "
                    f"uncertainty of {_shown(standard, check.unit)}; readings will stray across them"
                ),
            )


def _usual(check: Check) -> Iterator[_Remark]:
    """Yield targets that rest on common practice, and makers' figures far from it."""
    for item in check.items:
        recipe, target = check.recipes.get(item), check.targets.get(item)
        if recipe is None or target is None:
            continue
        if "common practice" in target.derivation and recipe.maker is None:
            yield (
                Weight.NOTE,
                item,
                (
                    "the target is common practice without a source; ask the ring's maker "
                    "and write maker = ..."
                ),
            )


def _second_rings(plan: Plan, check: Check) -> Iterator[_Remark]:
    wanted = plan.engine.second_ring
    if wanted is SecondRing.FREE:
        return
    for item in check.items:
        if item.get("ring") != "second":
            continue
        labels = tuple((axis, "top" if axis == "ring" else label) for axis, label in item.labels)
        top = check.targets.get(Position(labels))
        if top is None:
            continue
        second = check.targets[item]
        if wanted is SecondRing.WIDER and second.aim.mm < top.aim.mm:
            yield (
                Weight.CONTRADICTION,
                item,
                (f"its gap {second.aim} is less than the top ring's {top.aim}, and second_ring says wider"),
            )
        if wanted is SecondRing.NARROWER and second.aim.mm > top.aim.mm:
            yield (
                Weight.CONTRADICTION,
                item,
                (
                    f"its gap {second.aim} is more than the top ring's {top.aim}, and "
                    "second_ring says narrower"
                ),
            )


def _heat(plan: Plan, check: Check) -> Iterator[_Remark]:
    if plan.hot is None:
        return
    for item in check.items:
        bore = plan.engine.bore_of(item.get("cylinder"))
        if bore is None:
            continue
        target = check.targets[item]
        left = hot_gap(target.lower, bore, plan.hot)
        if not left.short:
            continue
        rises = "/".join(plain(rise) for rise in dict.fromkeys(plan.hot.ring_rise))
        what = "the ends may meet" if left.butts else f"less than the margin {plan.hot.margin} may be left"
        yield (
            Weight.CAUTION,
            item,
            (
                f"at {rises} K of ring and {plain(plan.hot.bore_rise)} K of bore {what} at the lower limit "
                f"{target.lower}: {_shown(float(left.least_mm), check.unit)} left ({left.remark})"
            ),
        )


def _leaves(plan: Plan, check: Check) -> Iterator[_Remark]:
    if not plan.leaves:
        return
    sizes = [stack.size_mm for stack in stacks(plan.leaves)]
    for item in check.items:
        target = check.targets[item]
        if not any(target.lower.mm <= size <= target.upper.mm for size in sizes):
            yield (
                Weight.CONTRADICTION,
                item,
                (
                    f"no stack of the leaves lies from {target.lower} to {target.upper}, so "
                    "they can't show it is "
                    "good; add a leaf or measure otherwise"
                ),
            )


def _nominal(check: Check) -> Iterator[_Remark]:
    """Yield nominal sizes whose difference is far from the target: a wrong unit or figure."""
    sizes = [part.given or part.nominal for part in check.parts]
    if any(size is None for size in sizes):
        return
    known = [size for size in sizes if size is not None]
    total = sum((part.times * size.mm for part, size in zip(check.parts, known, strict=True)), Fraction(0))
    most = max(size.mm for size in known)
    for item in check.items:
        target = check.targets[item]
        if target.upper.mm >= most:
            yield (
                Weight.CONTRADICTION,
                item,
                (f"a difference of {target.upper} is more than any part measures; check the units"),
            )
        elif abs(total - target.aim.mm) > most / 10:
            yield (
                Weight.CAUTION,
                item,
                (
                    f"the nominal sizes come to {_shown(float(total), check.unit)}, far "
                    f"from the aim {target.aim}; "
                    "check them"
                ),
            )


def _shims(check: Check) -> Iterator[_Remark]:
    """Yield steps between shims that are wider than the limits: some lashes can't be set then."""
    steps = [b.mm - a.mm for a, b in zip(check.shims, check.shims[1:], strict=False)]
    widest = max(steps, default=Fraction(0))
    for item in check.items:
        target = check.targets[item]
        if widest > target.upper.mm - target.lower.mm:
            yield (
                Weight.CAUTION,
                item,
                (
                    f"shims {_shown(float(widest), check.unit)} apart can't set every lash "
                    f"within {target.lower} to "
                    f"{target.upper}; get sizes between"
                ),
            )
        if target.aim.mm >= check.shims[-1].mm:
            yield (
                Weight.CONTRADICTION,
                item,
                (f"a lash of {target.aim} is more than the thickest shim {check.shims[-1]}; check the units"),
            )


def _shown(mm: float, unit: Unit) -> str:
    return f"{plain(in_unit(Fraction(mm), unit, places=3))} {unit}"


def _zone(zone: Iterable[float], unit: Unit) -> str:
    low, high = zone
    return f"{_shown(low, unit)} to {_shown(high, unit)}"


__all__ = ["Finding", "Weight", "findings"]
