"""From the checked form of a plan to the plan itself: what the keys mean together."""

from __future__ import annotations

import re
from collections.abc import Iterable
from decimal import Decimal, InvalidOperation

from handsfree.length import Length
from handsfree.plan.build_axes import build_axes, build_positions
from handsfree.plan.build_drawer import build_hot, build_instruments, build_leaves
from handsfree.plan.build_parts import build_parts, build_reuse, build_shims
from handsfree.plan.build_share import build_share, check_shares
from handsfree.plan.build_targets import build_recipes, build_targets
from handsfree.plan.build_windows import build_windows
from handsfree.plan.certainty import Acceptance, Instrument
from handsfree.plan.check import Check, Part, Rule
from handsfree.plan.derive import STEPS, duties
from handsfree.plan.fault import Source
from handsfree.plan.plan import Engine, Plan, SecondRing
from handsfree.plan.position import Position
from handsfree.plan.sheet import CheckSheet, EngineSheet, Figure, PlanSheet
from handsfree.plan.where import Place
from handsfree.plan.written import did_you_mean

# Bores from a model engine's to a large ship's; beyond that a unit has been mixed up [common
# practice, no source].
SMALLEST_BORE_MM = 5
LARGEST_BORE_MM = 1200
_SPEAKABLE = re.compile(r"[a-z][a-z]*(?:[ -][a-z0-9]+)*")


def build(sheet: PlanSheet, source: Source) -> Plan:
    """Build the plan.

    Raises:
        PlanError: something in it can't be; one sentence with the place and what to do.
    """
    engine = _engine(sheet.engine, source)
    instruments = build_instruments(sheet.instrument, source)
    checks: list[Check] = []
    for number, check in enumerate(sheet.check):
        place: Place = ("check", number)
        if check.name in {known.name for known in checks}:
            raise source.fault((*place, "name"), f'two checks are named "{check.name}"; rename one')
        checks.append(_check(check, place, engine, instruments, source))
    _check_cylinders(engine, checks, source)
    _check_bores(checks, source)
    check_shares(checks, source)
    acceptance = source.one_of(
        ("acceptance",), sheet.acceptance, [known.value for known in Acceptance], "way of accepting"
    )
    return Plan(
        name=sheet.name,
        engine=engine,
        checks=tuple(checks),
        text=source.text,
        acceptance=Acceptance(acceptance),
        confidence=float(_chance(("confidence",), sheet.confidence, "0.5", "1", source)),
        instruments=tuple(instruments.values()),
        leaves=build_leaves(sheet.feelers, source),
        risk=float(_chance(("filing", "risk"), sheet.filing.risk, "0", "0.5", source)),
        hot=build_hot(sheet.hot, source),
    )


def _engine(sheet: EngineSheet, source: Source) -> Engine:
    bore = None if sheet.bore is None else _bore(("engine", "bore"), sheet.bore, source)
    bores = {
        cylinder: _bore(("engine", "bores", cylinder), figure, source)
        for cylinder, figure in sheet.bores.items()
    }
    if sheet.duty is not None:
        source.one_of(("engine", "duty"), sheet.duty, duties(), "duty")
    second = source.one_of(
        ("engine", "second_ring"), sheet.second_ring, [s.value for s in SecondRing], "rule for second rings"
    )
    return Engine(sheet.name, bore, bores, sheet.duty, SecondRing(second))


def _bore(place: Place, figure: Figure, source: Source) -> Length:
    bore = source.length(place, figure, None)
    if not SMALLEST_BORE_MM <= bore.mm <= LARGEST_BORE_MM:
        raise source.fault(
            place,
            f"no engine has a bore of {bore}; check the unit "
            f"(bores from {SMALLEST_BORE_MM} mm to {LARGEST_BORE_MM} mm are taken)",
        )
    return bore


def _check(
    sheet: CheckSheet, place: Place, engine: Engine, instruments: dict[str, Instrument], source: Source
) -> Check:
    if not _SPEAKABLE.fullmatch(sheet.name):
        raise source.fault(
            (*place, "name"),
            f'"{sheet.name}" can\'t be spoken as the name of a check; write words in small letters, '
            'such as "ring gaps"',
        )
    rule = Rule(source.one_of((*place, "rule"), sheet.rule, [r.value for r in Rule], "rule"))
    unit = source.unit((*place, "unit"), sheet.unit)
    step = STEPS[unit] if sheet.step is None else source.length((*place, "step"), sheet.step, unit)
    if step.value <= 0:
        raise source.fault((*place, "step"), f"a step of {step} isn't above zero; write what leaves can tell")
    parts = build_parts(sheet, place, rule, unit, instruments, source)
    axes = build_axes(sheet, place, parts, source)
    positions = build_positions(sheet, place, axes, source)
    items = tuple(dict.fromkeys(_without_part(parts, positions)))
    recipes = build_recipes(sheet, place, rule, unit, step, axes, items, engine, source)
    targets = build_targets(sheet, rule, items, recipes, engine, source)
    shims = build_shims(sheet, place, rule, unit, source)
    instrument = None
    if sheet.instrument is not None:
        named = source.one_of((*place, "instrument"), sheet.instrument, instruments, "instrument")
        instrument = instruments[named]
    return Check(
        name=sheet.name,
        rule=rule,
        unit=unit,
        axes=axes,
        positions=positions,
        items=items,
        targets=targets,
        recipes={item: recipe for item, (recipe, _) in recipes.items()},
        windows=build_windows(sheet, place, unit, positions, parts, targets, source, shims),
        parts=parts,
        shims=shims,
        instrument=instrument,
        bores_from=sheet.bores_from,
        gap_at=None if sheet.gap_at is None else str(sheet.gap_at),
        signed=sheet.signed,
        correlation=_correlation(sheet, place, source),
        share=build_share(sheet.share, place, rule, axes, source),
        reuse=build_reuse(sheet, place, parts, source),
    )


def _without_part(parts: tuple[Part, ...], positions: tuple[Position, ...]) -> Iterable[Position]:
    for position in positions:
        yield Position(position.labels[:-1]) if parts else position


def _check_cylinders(engine: Engine, checks: list[Check], source: Source) -> None:
    """A bore of a cylinder that no check has is a slip of the pen."""
    labels = {
        label for check in checks for axis in check.axes if axis.name == "cylinder" for label in axis.labels
    }
    for cylinder in engine.bores:
        if labels and cylinder not in labels:
            raise source.fault(
                ("engine", "bores", cylinder),
                f'no check has a cylinder "{cylinder}"; {did_you_mean(cylinder, sorted(labels))}',
            )


def _check_bores(checks: list[Check], source: Source) -> None:
    """Whatever takes its bores from another check must name one that measures them."""
    direct = {check.name: check for check in checks if check.rule is Rule.LIMITS}
    for number, check in enumerate(checks):
        place: Place = ("check", number, "bores_from")
        if check.bores_from is None:
            if check.gap_at is not None:
                raise source.fault(
                    ("check", number, "gap_at"),
                    '"gap_at" needs "bores_from", the check that measures the bores',
                )
            continue
        if check.rule is not Rule.FILE_TO_GAP:
            raise source.fault(
                place, "only a check of gaps to file takes its bores from another; take it out"
            )
        name = source.one_of(place, check.bores_from, direct, "check with limits that measures bores")
        labels = [label for axis in direct[name].axes for label in axis.labels]
        if check.gap_at is not None:
            source.one_of(("check", number, "gap_at"), check.gap_at, labels, f"label of {name}")


def _chance(place: Place, written: Decimal | str, above: str, below: str, source: Source) -> Decimal:
    """Read a probability, written as 0.95 or "95 %"."""
    text = str(written).strip()
    try:
        value = Decimal(text.removesuffix("%").strip())
    except InvalidOperation:
        value = Decimal("NaN")
    if text.endswith("%"):
        value /= 100
    if not (value.is_finite() and Decimal(above) < value < Decimal(below)):
        raise source.fault(
            place,
            f'"{text}" is no such chance; write one between {above} and {below}, such as "95 %" or 0.05',
        )
    return value


def _correlation(sheet: CheckSheet, place: Place, source: Source) -> float:
    if sheet.correlation is None:
        return 0.0
    try:
        value = Decimal(str(sheet.correlation))
    except InvalidOperation:
        value = Decimal("NaN")
    if not (value.is_finite() and 0 <= value <= 1):
        raise source.fault(
            (*place, "correlation"), f'"{sheet.correlation}" is no correlation; write one from 0 to 1'
        )
    return float(value)
