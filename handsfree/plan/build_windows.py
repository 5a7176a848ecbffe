"""The readings that are plausible at a position, to decide between meanings of an unclear number."""

from __future__ import annotations

from collections.abc import Mapping
from decimal import Decimal

from handsfree.length import Length, Unit, in_unit
from handsfree.plan.check import Part
from handsfree.plan.fault import Source
from handsfree.plan.position import Position
from handsfree.plan.sheet import CheckSheet, Figure
from handsfree.plan.target import Target
from handsfree.plan.where import Place

Window = tuple[Length, Length]

# All [common practice, no source].
FROM = Decimal("0.25")  # of the aim
TO = Decimal("2.5")
PART_FROM = Decimal("0.8")  # of a part's nominal size, which is known better than a gap
PART_TO = Decimal("1.2")
TOLERANCES = 10  # a part is looked for no further apart than this many times the tolerance
SIZE_OF_WIDTH = 100  # an aim this many times its tolerance is a size, such as a bore, and no gap


def build_windows(
    sheet: CheckSheet,
    place: Place,
    unit: Unit,
    positions: tuple[Position, ...],
    parts: tuple[Part, ...],
    targets: Mapping[Position, Target],
    source: Source,
    shims: tuple[Length, ...] = (),
) -> dict[Position, Window]:
    """Return the plausible window of each position: a quarter to two and a half times the aim, or as set.

    A part has five times the tolerance to either side of its size, a shim what the shims that can be had
    span, and what is aimed at as closely as a bore a fifth to either side. A lash has up to two and a half
    times the aim. Where there are several parts a window belongs to a part, otherwise to the check.

    Raises:
        PlanError: a window that isn't two lengths, the smaller first, or one in the wrong place.
    """
    set_here = None
    if sheet.window is not None:
        if parts:
            raise source.fault(
                (*place, "window"), "the parts are what is read; write a window in each [[check.part]]"
            )
        set_here = _set((*place, "window"), sheet.window, unit, source)
    own: dict[str, Window] = {}
    for number, part in enumerate(sheet.part):
        if part.window is not None:
            own[part.name] = _set((*place, "part", number, "window"), part.window, unit, source)
    known = {part.name: part for part in parts}
    windows: dict[Position, Window] = {}
    for position in positions:
        if parts:
            name = position.labels[-1][1]
            item = Position(position.labels[:-1])
            windows[position] = own.get(name) or _of_part(
                known[name], targets[item], shims, signed=sheet.signed
            )
        elif position in targets:
            windows[position] = set_here or _of_target(targets[position], sheet.signed)
    return windows


def _set(where: Place, figures: list[Figure], unit: Unit, source: Source) -> Window:
    ends = [source.length(where, figure, unit) for figure in figures]
    if len(ends) != 2 or ends[0].mm > ends[1].mm:
        raise source.fault(where, 'a window is two lengths, the smaller first: ["4 thou", "45 thou"]')
    return ends[0], ends[1]


def _of_part(part: Part, target: Target, shims: tuple[Length, ...], *, signed: bool) -> Window:
    if part.nominal is None:  # a lash
        return Length(Decimal(0), target.aim.unit), _of_target(target, signed)[1]
    if shims:
        sizes = sorted((*shims, part.nominal), key=lambda size: size.mm)
        return sizes[0], sizes[-1]
    return _of_size(part.nominal, target)


def _of_size(size: Length, target: Target) -> Window:
    """About a size that is known closely: by the tolerance, and at most a fifth to either side."""
    share = (size.value * PART_FROM, size.value * PART_TO)
    width = target.upper.mm - target.lower.mm
    if width <= 0:
        return Length(share[0], size.unit), Length(share[1], size.unit)
    half = in_unit(width * TOLERANCES / 2, size.unit, places=6)
    low, high = max(share[0], size.value - half), min(share[1], size.value + half)
    return Length(low, size.unit), Length(high, size.unit)


def _of_target(target: Target, signed: bool) -> Window:
    aim = target.aim
    width = target.upper.mm - target.lower.mm
    is_size = 0 < width * SIZE_OF_WIDTH <= aim.mm
    shares = (PART_FROM, PART_TO) if is_size else (FROM, TO)
    ends = [Length(aim.value * share, aim.unit) for share in shares]
    # Never so narrow that a reading at a limit, or as far beyond it again, would seem implausible.
    for limit, sign in ((target.lower, -1), (target.upper, 1)):
        beyond = Length(limit.value, limit.unit)
        if target.lower.unit == target.upper.unit and (target.lower.value <= 0 or width == 0):
            beyond = Length(limit.value + sign * (target.upper.value - target.lower.value), limit.unit)
        ends.append(beyond)
    low, high = min(ends, key=lambda end: end.mm), max(ends, key=lambda end: end.mm)
    return (low if signed or low.value >= 0 else Length(Decimal(0), low.unit)), high
