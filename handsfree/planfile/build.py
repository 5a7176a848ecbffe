"""Builds the plan from its validated tables: the meaning of the keys together.

The axes of a check, and its positions in work order.
"""

from __future__ import annotations

import re
from collections.abc import Iterable
from decimal import Decimal, InvalidOperation
from itertools import product
from math import prod

from handsfree.errors import did_you_mean
from handsfree.length import Length
from handsfree.plan import (
    PART,
    STEPS,
    Acceptance,
    Axis,
    Check,
    Engine,
    Instrument,
    Part,
    Plan,
    Position,
    Rule,
    SecondRing,
    duties,
)
from handsfree.planfile.drawer import build_hot, build_instruments, build_leaves
from handsfree.planfile.parts import build_parts, build_reuse, build_share, build_shims, check_shares
from handsfree.planfile.source import KeyPath, Source
from handsfree.planfile.tables import CheckTable, EngineTable, Figure, PlanTable, TargetTable
from handsfree.planfile.targets import build_recipes, build_targets, build_windows

# Bores from a model engine's to a large ship's; outside that the unit is wrong [common practice, no source].
SMALLEST_BORE_MM = 5
LARGEST_BORE_MM = 1200
_SPEAKABLE = re.compile(r"[a-z][a-z]*(?:[ -][a-z0-9]+)*")


def build(table: PlanTable, source: Source) -> Plan:
    """Build the plan.

    Raises:
        PlanError: the plan is invalid; one sentence with the place and the remedy.
    """
    engine = _engine(table.engine, source)
    instruments = build_instruments(table.instrument, source)
    checks: list[Check] = []
    for number, check in enumerate(table.check):
        path: KeyPath = ("check", number)
        if check.name in {known.name for known in checks}:
            raise source.error((*path, "name"), f'two checks are named "{check.name}"; rename one')
        checks.append(_check(check, path, engine, instruments, source))
    _check_cylinders(engine, checks, source)
    _check_bores(checks, source)
    check_shares(checks, source)
    acceptance = source.one_of(
        ("acceptance",), table.acceptance, [known.value for known in Acceptance], "way of accepting"
    )
    return Plan(
        name=table.name,
        engine=engine,
        checks=tuple(checks),
        text=source.text,
        acceptance=Acceptance(acceptance),
        confidence=float(_chance(("confidence",), table.confidence, "0.5", "1", source)),
        instruments=tuple(instruments.values()),
        leaves=build_leaves(table.feelers, source),
        risk=float(_chance(("filing", "risk"), table.filing.risk, "0", "0.5", source)),
        hot=build_hot(table.hot, source),
    )


def _engine(table: EngineTable, source: Source) -> Engine:
    bore = None if table.bore is None else _bore(("engine", "bore"), table.bore, source)
    bores = {
        cylinder: _bore(("engine", "bores", cylinder), figure, source)
        for cylinder, figure in table.bores.items()
    }
    if table.duty is not None:
        source.one_of(("engine", "duty"), table.duty, duties(), "duty")
    second = source.one_of(
        ("engine", "second_ring"), table.second_ring, [s.value for s in SecondRing], "rule for second rings"
    )
    return Engine(table.name, bore, bores, table.duty, SecondRing(second))


def _bore(path: KeyPath, figure: Figure, source: Source) -> Length:
    bore = source.length(path, figure, None)
    if not SMALLEST_BORE_MM <= bore.mm <= LARGEST_BORE_MM:
        raise source.error(
            path,
            f"no engine has a bore of {bore}; check the unit "
            f"(bores from {SMALLEST_BORE_MM} mm to {LARGEST_BORE_MM} mm are taken)",
        )
    return bore


def _check(
    table: CheckTable, path: KeyPath, engine: Engine, instruments: dict[str, Instrument], source: Source
) -> Check:
    if not _SPEAKABLE.fullmatch(table.name):
        raise source.error(
            (*path, "name"),
            f'"{table.name}" can\'t be spoken as the name of a check; write words in small letters, '
            'such as "ring gaps"',
        )
    rule = Rule(source.one_of((*path, "rule"), table.rule, [r.value for r in Rule], "rule"))
    unit = source.unit((*path, "unit"), table.unit)
    step = STEPS[unit] if table.step is None else source.length((*path, "step"), table.step, unit)
    if step.value <= 0:
        raise source.error((*path, "step"), f"a step of {step} isn't above zero; write what leaves can tell")
    parts = build_parts(table, path, rule, unit, instruments, source)
    axes = build_axes(table, path, parts, source)
    positions = build_positions(table, path, axes, source)
    items = tuple(dict.fromkeys(_without_part(parts, positions)))
    recipes = build_recipes(table, path, rule, unit, step, axes, items, engine, source)
    targets = build_targets(table, rule, items, recipes, engine, source)
    shims = build_shims(table, path, rule, unit, source)
    instrument = None
    if table.instrument is not None:
        named = source.one_of((*path, "instrument"), table.instrument, instruments, "instrument")
        instrument = instruments[named]
    return Check(
        name=table.name,
        rule=rule,
        unit=unit,
        axes=axes,
        positions=positions,
        items=items,
        targets=targets,
        recipes={item: recipe for item, (recipe, _) in recipes.items()},
        windows=build_windows(table, path, unit, positions, parts, targets, source, shims),
        parts=parts,
        shims=shims,
        instrument=instrument,
        bores_from=table.bores_from,
        gap_at=None if table.gap_at is None else str(table.gap_at),
        signed=table.signed,
        correlation=_correlation(table, path, source),
        share=build_share(table.share, path, rule, axes, source),
        reuse=build_reuse(table, path, parts, source),
    )


def _without_part(parts: tuple[Part, ...], positions: tuple[Position, ...]) -> Iterable[Position]:
    for position in positions:
        yield Position(position.labels[:-1]) if parts else position


def _check_cylinders(engine: Engine, checks: list[Check], source: Source) -> None:
    """Check that every cylinder with its own bore occurs in a check."""
    labels = {
        label for check in checks for axis in check.axes if axis.name == "cylinder" for label in axis.labels
    }
    for cylinder in engine.bores:
        if labels and cylinder not in labels:
            raise source.error(
                ("engine", "bores", cylinder),
                f'no check has a cylinder "{cylinder}"; {did_you_mean(cylinder, sorted(labels))}',
            )


def _check_bores(checks: list[Check], source: Source) -> None:
    """Check that `bores_from` always names a check that measures bores."""
    direct = {check.name: check for check in checks if check.rule is Rule.LIMITS}
    for number, check in enumerate(checks):
        path: KeyPath = ("check", number, "bores_from")
        if check.bores_from is None:
            if check.gap_at is not None:
                raise source.error(
                    ("check", number, "gap_at"),
                    '"gap_at" needs "bores_from", the check that measures the bores',
                )
            continue
        if check.rule is not Rule.FILE_TO_GAP:
            raise source.error(path, "only a check of gaps to file takes its bores from another; take it out")
        name = source.one_of(path, check.bores_from, direct, "check with limits that measures bores")
        labels = [label for axis in direct[name].axes for label in axis.labels]
        if check.gap_at is not None:
            source.one_of(("check", number, "gap_at"), check.gap_at, labels, f"label of {name}")


def _chance(path: KeyPath, written: Decimal | str, above: str, below: str, source: Source) -> Decimal:
    """Return a probability, written as 0.95 or "95 %"."""
    text = str(written).strip()
    try:
        value = Decimal(text.removesuffix("%").strip())
    except InvalidOperation:
        value = Decimal("NaN")
    if text.endswith("%"):
        value /= 100
    if not (value.is_finite() and Decimal(above) < value < Decimal(below)):
        raise source.error(
            path,
            f'"{text}" is no such chance; write one between {above} and {below}, such as "95 %" or 0.05',
        )
    return value


def _correlation(table: CheckTable, path: KeyPath, source: Source) -> float:
    if table.correlation is None:
        return 0.0
    try:
        value = Decimal(str(table.correlation))
    except InvalidOperation:
        value = Decimal("NaN")
    if not (value.is_finite() and 0 <= value <= 1):
        raise source.error(
            (*path, "correlation"), f'"{table.correlation}" is no correlation; write one from 0 to 1'
        )
    return float(value)


MOST_LABELS = 99  # the grammar counts positions up to ninety-nine
MOST_POSITIONS = 10_000  # of a check; the largest engine has some hundreds to read
_WORDS = re.compile(r"[a-z]+(?:[ -][a-z0-9]+)*")
_LABEL = re.compile(r"[1-9][0-9]?|[a-z]+(?:[ -][a-z0-9]+)*")


def build_axes(table: CheckTable, path: KeyPath, parts: tuple[Part, ...], source: Source) -> tuple[Axis, ...]:
    """Return the axes in the order written, followed by the axis of the parts that are read.

    Raises:
        PlanError: no axis, a name or label that can't be spoken, a repeated label, an invalid count.
    """
    if not table.axes:
        raise source.error((*path, "axes"), "there is no axis; write one, such as cylinder = 8")
    axes = []
    reserved = {*TargetTable.model_fields, PART}
    for name, given in table.axes.items():
        where: KeyPath = (*path, "axes", name)
        if not _WORDS.fullmatch(name):
            raise source.error(where, f'an axis "{name}" can\'t be spoken; write words in small letters')
        if name in reserved:
            raise source.error(where, f'an axis can\'t be named "{name}", which means something else here')
        axes.append(Axis(name, _labels(given, where, source)))
    read = [part.name for part in parts if part.given is None]
    if read:
        for number, label in enumerate(read):
            if not _LABEL.fullmatch(label):
                raise source.error(
                    (*path, "part", number, "name"),
                    f'"{label}" can\'t be spoken as a part; write words in small letters',
                )
        axes.append(Axis(PART, tuple(read)))
    seen: dict[str, str] = {}
    for axis in axes:
        for label in axis.labels:
            if not label.isdigit() and label in seen:
                raise source.error(
                    (*path, "axes", axis.name) if axis.name != PART else (*path, "part"),
                    f'"{label}" is a label of {seen[label]} too, so what is meant is unclear; rename one',
                )
            seen[label] = axis.name
    return tuple(axes)


def _labels(given: int | list[str | int], where: KeyPath, source: Source) -> tuple[str, ...]:
    if isinstance(given, int):
        if not 1 <= given <= MOST_LABELS:
            raise source.error(
                where, f"there can't be {given} of them; write a count from 1 to {MOST_LABELS}"
            )
        return tuple(str(number) for number in range(1, given + 1))
    labels = tuple(str(label) for label in given)
    if not labels:
        raise source.error(where, "the list of labels is empty; write a count or the labels")
    if len(labels) > MOST_LABELS:
        raise source.error(where, f"there can't be {len(labels)} labels; write at most {MOST_LABELS}")
    for index, label in enumerate(labels):
        if not _LABEL.fullmatch(label):
            raise source.error(
                where,
                f'"{label}" can\'t be spoken as a label; write a number from 1 to {MOST_LABELS} '
                "or words in small letters",
            )
        if label in labels[:index]:
            raise source.error(where, f'the label "{label}" stands there twice; take one out or rename it')
    return labels


def build_positions(
    table: CheckTable, path: KeyPath, axes: tuple[Axis, ...], source: Source
) -> tuple[Position, ...]:
    """Return every position in work order, with its labels in the order of the axes.

    With ``order = "ring by ring"`` all positions of one ring come before the next ring; by default the
    first axis is the outer one.

    Raises:
        PlanError: the order doesn't name an axis.
    """
    count = prod(len(axis.labels) for axis in axes)
    if count > MOST_POSITIONS:
        raise source.error(
            (*path, "axes"),
            f"its axes make {count} positions; write fewer labels, or several checks (at most "
            f"{MOST_POSITIONS} positions in one)",
        )
    outer = axes[0]
    if table.order is not None:
        orders = {f"{axis.name} by {axis.name}": axis for axis in axes}
        outer = orders[source.one_of((*path, "order"), table.order, orders, "order of this check")]
    nested = [outer, *(axis for axis in axes if axis is not outer)]
    positions = []
    for labels in product(*(axis.labels for axis in nested)):
        chosen = {axis.name: label for axis, label in zip(nested, labels, strict=True)}
        positions.append(Position(tuple((axis.name, chosen[axis.name]) for axis in axes)))
    return tuple(positions)
