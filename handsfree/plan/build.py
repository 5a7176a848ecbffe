"""From the checked form of a plan to the plan itself: what the keys mean together."""

from __future__ import annotations

import re

from handsfree.length import Length
from handsfree.plan.build_axes import build_axes, build_positions
from handsfree.plan.build_targets import build_targets, build_windows
from handsfree.plan.check import Check, Rule
from handsfree.plan.fault import Source
from handsfree.plan.plan import Engine, Plan
from handsfree.plan.sheet import CheckSheet, EngineSheet, PlanSheet
from handsfree.plan.where import Place

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
    checks: list[Check] = []
    for number, check in enumerate(sheet.check):
        place: Place = ("check", number)
        if check.name in {known.name for known in checks}:
            raise source.fault((*place, "name"), f'two checks are named "{check.name}"; rename one')
        checks.append(_check(check, place, engine, source))
    return Plan(sheet.name, engine, tuple(checks), source.text)


def _engine(sheet: EngineSheet, source: Source) -> Engine:
    bore = None if sheet.bore is None else _bore(("engine", "bore"), sheet.bore, source)
    bores = {
        cylinder: _bore(("engine", "bores", cylinder), figure, source)
        for cylinder, figure in sheet.bores.items()
    }
    return Engine(sheet.name, bore, bores)


def _bore(place: Place, figure: object, source: Source) -> Length:
    bore = source.length(place, figure, None)  # type: ignore[arg-type]
    if not SMALLEST_BORE_MM <= bore.mm <= LARGEST_BORE_MM:
        raise source.fault(
            place,
            f"no engine has a bore of {bore}; check the unit "
            f"(bores from {SMALLEST_BORE_MM} mm to {LARGEST_BORE_MM} mm are taken)",
        )
    return bore


def _check(sheet: CheckSheet, place: Place, engine: Engine, source: Source) -> Check:
    if not _SPEAKABLE.fullmatch(sheet.name):
        raise source.fault(
            (*place, "name"),
            f'"{sheet.name}" can\'t be spoken as the name of a check; write words in small letters, '
            'such as "ring gaps"',
        )
    rule = Rule(source.one_of((*place, "rule"), sheet.rule, [r.value for r in Rule], "rule"))
    unit = source.unit((*place, "unit"), sheet.unit)
    axes = build_axes(sheet, place, source)
    positions = build_positions(sheet, place, axes, source)
    targets = build_targets(sheet, place, rule, unit, axes, positions, engine, source)
    windows = build_windows(sheet, place, unit, positions, targets, source)
    return Check(sheet.name, rule, unit, axes, positions, targets, windows)
