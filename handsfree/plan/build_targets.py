"""The target of every position, and the window of readings that are plausible there."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from decimal import Decimal
from fractions import Fraction

from handsfree.length import Length, Unit, in_unit
from handsfree.plan.check import Axis, Rule
from handsfree.plan.fault import Source
from handsfree.plan.plan import Engine
from handsfree.plan.position import Position
from handsfree.plan.sheet import CheckSheet, TargetSheet
from handsfree.plan.target import Target
from handsfree.plan.where import Place
from handsfree.plan.written import did_you_mean

# Bounds that only catch a unit that was mixed up, or a figure of another thing [common practice,
# no source]: real ring gaps are some 0.3 to 2 hundredths of the bore.
LARGEST_GAP_PER_BORE = Fraction(5, 100)
SMALLEST_GAP_PER_BORE = Fraction(5, 10_000)
WINDOW_FROM = Decimal("0.25")  # of the aim
WINDOW_TO = Decimal("2.5")


@dataclass(frozen=True, slots=True)
class _Row:
    """A target of the file with the positions that it is for."""

    sheet: TargetSheet
    place: Place
    wanted: Mapping[str, frozenset[str]]

    def fits(self, position: Position) -> bool:
        return all(position.get(axis) in labels for axis, labels in self.wanted.items())


def build_targets(
    sheet: CheckSheet,
    place: Place,
    rule: Rule,
    unit: Unit,
    axes: tuple[Axis, ...],
    positions: tuple[Position, ...],
    engine: Engine,
    source: Source,
) -> dict[Position, Target]:
    """Give each position its target: of the rows that fit it, the one that names most axes.

    Raises:
        PlanError: a position without a target, or with two that are equally near; limits that
            can't be; a target that the position can't have.
    """
    rows = [_row(row, (*place, "target", n), axes, source) for n, row in enumerate(sheet.target)]
    if rule is Rule.TICK:
        if rows:
            raise source.fault(rows[0].place, "a check to tick has no target; take it out")
        return {}
    built = [_target(row, rule, unit, source) for row in rows]
    targets = {}
    for position in positions:
        fitting = [n for n, row in enumerate(rows) if row.fits(position)]
        if not fitting:
            raise source.fault(place, f"{position} has no target; add a [[check.target]] that fits it")
        most = max(len(rows[n].wanted) for n in fitting)
        best = [n for n in fitting if len(rows[n].wanted) == most]
        if len(best) > 1:
            raise source.fault(
                rows[best[1]].place,
                f"two targets fit {position} equally well; take one out or name more axes",
            )
        chosen = best[0]
        _check_plausible(built[chosen], rule, engine, position, rows[chosen].place, source)
        targets[position] = built[chosen]
    return targets


def _row(sheet: TargetSheet, place: Place, axes: tuple[Axis, ...], source: Source) -> _Row:
    labels = {axis.name: axis.labels for axis in axes}
    wanted = {}
    for key, value in (sheet.model_extra or {}).items():
        if key not in labels:
            known = [*labels, *TargetSheet.model_fields]
            raise source.fault((*place, key), f'there is no key "{key}" here; {did_you_mean(key, known)}')
        given = value if isinstance(value, list) else [value]
        wanted[key] = frozenset(
            source.one_of((*place, key), str(label), labels[key], f"label of {key}") for label in given
        )
    return _Row(sheet, place, wanted)


def _target(row: _Row, rule: Rule, unit: Unit, source: Source) -> Target:
    sheet, place = row.sheet, row.place

    def read(key: str) -> Length | None:
        figure = getattr(sheet, key)
        return None if figure is None else source.length((*place, key), figure, unit)

    aim, lower, upper, plus, minus = (read(key) for key in ("aim", "lower", "upper", "plus", "minus"))
    for key, tolerance in (("plus", plus), ("minus", minus)):
        if tolerance is not None and tolerance.value < 0:
            raise source.fault(
                (*place, key), f"a tolerance of {tolerance} is below zero; write it without the sign"
            )
    if plus is not None and upper is not None:
        raise source.fault((*place, "plus"), '"plus" and "upper" say the same thing; keep one of them')
    if minus is not None and lower is not None:
        raise source.fault((*place, "minus"), '"minus" and "lower" say the same thing; keep one of them')
    if aim is None and rule is Rule.LIMITS and lower is not None and upper is not None:
        aim = _middle(lower, upper, place, source)
    if aim is None:
        raise source.fault(place, 'the target has no "aim"; add one, such as aim = "18 thou"')
    if plus is not None:
        upper = _sum(aim, plus, 1)
    if minus is not None:
        lower = _sum(aim, minus, -1)
    if lower is None and rule is Rule.FILE_TO_GAP:
        lower = aim  # a filed gap is brought up to its aim and may only be larger
    if upper is None:
        raise source.fault(place, 'the target has no upper limit; add "upper" or "plus"')
    if lower is None:
        raise source.fault(place, 'the target has no lower limit; add "lower" or "minus"')
    target = Target(aim, lower, upper)
    _check_order(target, rule, place, source)
    return target


def _middle(lower: Length, upper: Length, place: Place, source: Source) -> Length:
    if lower.unit != upper.unit:
        raise source.fault(
            place, "the limits are in two units, so no exact middle; write them in one or add an aim"
        )
    return Length((lower.value + upper.value) / 2, lower.unit)


def _sum(aim: Length, tolerance: Length, sign: int) -> Length:
    """Add a tolerance to an aim in a unit that holds the sum exactly."""
    if aim.unit == tolerance.unit:
        return Length(aim.value + sign * tolerance.value, aim.unit)
    # A thou is 0.0254 mm exactly, so millimetres hold any sum of the units that there are.
    return Length(in_unit(aim.mm + sign * tolerance.mm, Unit.MM, places=30), Unit.MM)


def _check_order(target: Target, rule: Rule, place: Place, source: Source) -> None:
    if rule is Rule.FILE_TO_GAP:
        for key in ("aim", "lower"):
            figure: Length = getattr(target, key)
            if figure.value <= 0:
                raise source.fault(
                    (*place, key), f"a gap of {figure} isn't above zero; write what the gap is to become"
                )
    if target.lower.mm > target.upper.mm:
        raise source.fault(
            place,
            f"the lower limit {target.lower} is above the upper limit {target.upper}; swap them or mend one",
        )
    if not target.lower.mm <= target.aim.mm <= target.upper.mm:
        raise source.fault(
            (*place, "aim"),
            f"the aim {target.aim} isn't within its limits {target.lower} to {target.upper}; mend one",
        )


def _check_plausible(
    target: Target, rule: Rule, engine: Engine, position: Position, place: Place, source: Source
) -> None:
    bore = engine.bore_of(position.get("cylinder"))
    if rule is not Rule.FILE_TO_GAP or bore is None:
        return
    for figure in (target.aim, target.upper):
        if figure.mm > bore.mm * LARGEST_GAP_PER_BORE:
            raise source.fault(
                place, f"a gap of {figure} is more than a ring in a bore of {bore} can have; check its unit"
            )
    if target.aim.mm < bore.mm * SMALLEST_GAP_PER_BORE:
        raise source.fault(
            place, f"a gap of {target.aim} is too little for a ring in a bore of {bore}; check its unit"
        )


def build_windows(
    sheet: CheckSheet,
    place: Place,
    unit: Unit,
    positions: tuple[Position, ...],
    targets: Mapping[Position, Target],
    source: Source,
) -> dict[Position, tuple[Length, Length]]:
    """Give each position its plausible window: a quarter to two and a half times the aim, or as set.

    Raises:
        PlanError: a window that isn't two lengths, the smaller first.
    """
    if sheet.window is not None:
        where: Place = (*place, "window")
        ends = [source.length(where, figure, unit) for figure in sheet.window]
        if len(ends) != 2 or ends[0].mm > ends[1].mm:
            raise source.fault(where, 'a window is two lengths, the smaller first: ["4 thou", "45 thou"]')
        return {position: (ends[0], ends[1]) for position in positions if position in targets}
    return {position: _window(targets[position]) for position in positions if position in targets}


def _window(target: Target) -> tuple[Length, Length]:
    aim = target.aim
    low = Length(aim.value * WINDOW_FROM, aim.unit)
    high = Length(aim.value * WINDOW_TO, aim.unit)
    # never so narrow that a reading at a limit would be called implausible
    return (min(low, target.lower, key=lambda end: end.mm), max(high, target.upper, key=lambda end: end.mm))
