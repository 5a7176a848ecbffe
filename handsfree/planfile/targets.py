"""Builds the target of every item, from the tables that match it.

The plausible readings at a position, to decide between the meanings of an ambiguous number.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from decimal import Decimal, InvalidOperation
from fractions import Fraction

from handsfree.errors import did_you_mean
from handsfree.length import Length, Unit, in_unit
from handsfree.plan import (
    OIL_RAILS,
    Axis,
    Engine,
    Part,
    Position,
    Recipe,
    RecipeError,
    Rule,
    SecondRing,
    Target,
    duties,
    least_rail_gap,
)
from handsfree.planfile.source import KeyPath, Source
from handsfree.planfile.tables import CheckTable, Figure, TargetTable

# Bounds that only catch a wrong unit or a figure of another quantity [common practice, no source]:
# real ring gaps are some 0.3 to 2 hundredths of the bore.
LARGEST_GAP_PER_BORE = Fraction(5, 100)
SMALLEST_GAP_PER_BORE = Fraction(5, 10_000)
LARGEST_FACTOR = Decimal("0.05")

Recipes = Mapping[Position, tuple[Recipe, KeyPath]]


@dataclass(frozen=True, slots=True)
class _TargetRow:
    """A target of the file with its items."""

    table: TargetTable
    place: KeyPath
    wanted: Mapping[str, frozenset[str]]

    def fits(self, item: Position) -> bool:
        return all(item.get(axis) in labels for axis, labels in self.wanted.items())


def build_recipes(
    table: CheckTable,
    path: KeyPath,
    rule: Rule,
    unit: Unit,
    step: Length,
    axes: tuple[Axis, ...],
    items: tuple[Position, ...],
    engine: Engine,
    source: Source,
) -> dict[Position, tuple[Recipe, KeyPath]]:
    """Return the recipe of each item: the matching table that names the most axes.

    Raises:
        PlanError: an item without a table, or with two equally specific ones; an invalid figure.
    """
    rows = [_row(row, (*path, "target", n), axes, source) for n, row in enumerate(table.target)]
    if rule is Rule.TICK:
        if rows:
            raise source.error(rows[0].place, "a check to tick has no target; take it out")
        return {}
    figures = [_figures(row, rule, unit, step, table.signed, source) for row in rows]
    recipes = {}
    for item in items:
        fitting = [n for n, row in enumerate(rows) if row.fits(item)]
        if not fitting:
            raise source.error(path, f"{item} has no target; add a [[check.target]] that fits it")
        most = max(len(rows[n].wanted) for n in fitting)
        best = [n for n in fitting if len(rows[n].wanted) == most]
        if len(best) > 1:
            raise source.error(
                rows[best[1]].place, f"two targets fit {item} equally well; take one out or name more axes"
            )
        row = rows[best[0]]
        recipes[item] = _with_factor(figures[best[0]], row, rule, item, engine, source), row.place
    return recipes


def build_targets(
    table: CheckTable,
    rule: Rule,
    items: tuple[Position, ...],
    recipes: Recipes,
    engine: Engine,
    source: Source,
) -> dict[Position, Target]:
    """Return the target of each item.

    Raises:
        PlanError: invalid limits, or a target that is impossible for the item.
    """
    targets: dict[Position, Target] = {}
    known: dict[tuple[int, Length | None, str], Target] = {}
    for item in items:
        if item not in recipes:
            continue
        recipe, where = recipes[item]
        bore = engine.bore_of(item.get("cylinder"))
        words = _bore_words(engine, item.get("cylinder"))
        key = id(recipe), bore, words
        if key not in known:
            try:
                target = recipe.target(bore, words)
            except RecipeError as error:
                at = where if error.key is None else (*where, error.key)
                raise source.error(at, str(error)) from None
            _check_order(target, table.signed, where, source)
            if rule is Rule.FILE_TO_GAP:
                _check_gap(target, bore, where, source)
            known[key] = target
        targets[item] = known[key]
    return targets


def _bore_words(engine: Engine, cylinder: str | None) -> str:
    return f"bore of cylinder {cylinder}" if cylinder in engine.bores else "bore"


def _row(table: TargetTable, path: KeyPath, axes: tuple[Axis, ...], source: Source) -> _TargetRow:
    labels = {axis.name: axis.labels for axis in axes if axis.name != "part"}
    wanted = {}
    for key, value in (table.model_extra or {}).items():
        if key not in labels:
            known = [*labels, *TargetTable.model_fields]
            raise source.error((*path, key), f'there is no key "{key}" here; {did_you_mean(key, known)}')
        given = value if isinstance(value, list) else [value]
        wanted[key] = frozenset(
            source.one_of((*path, key), str(label), labels[key], f"label of {key}") for label in given
        )
    return _TargetRow(table, path, wanted)


def _figures(row: _TargetRow, rule: Rule, unit: Unit, step: Length, signed: bool, source: Source) -> Recipe:
    table, path = row.table, row.place

    def read(key: str) -> Length | None:
        figure = getattr(table, key)
        return None if figure is None else source.length((*path, key), figure, unit)

    for key in ("plus", "minus"):
        tolerance = read(key)
        if tolerance is not None and tolerance.value < 0:
            raise source.error(
                (*path, key), f"a tolerance of {tolerance} is below zero; write it without the sign"
            )
    for key, other in (("plus", "upper"), ("minus", "lower")):
        if getattr(table, key) is not None and getattr(table, other) is not None:
            raise source.error((*path, key), f'"{key}" and "{other}" say the same thing; keep one of them')
    filed = rule is Rule.FILE_TO_GAP
    for key in ("factor", "duty"):
        if getattr(table, key) is not None and not filed:
            raise source.error((*path, key), f'only a gap to file comes from a {key}; write an "aim"')
    if table.factor is not None and table.duty is not None:
        raise source.error((*path, "duty"), '"factor" and "duty" both give the factor; keep one of them')
    recipe = Recipe(
        unit=unit,
        step=step,
        filed=filed,
        aim=read("aim"),
        maker=read("maker"),
        factor=_factor(table, path, source),
        origin=f"factor as written in the plan ({table.source})"
        if table.source
        else "factor as written in the plan",
        lower=read("lower"),
        upper=read("upper"),
        plus=read("plus"),
        minus=read("minus"),
        source=table.source,
    )
    _check_signs(recipe, signed, path, source)
    return recipe


def _factor(table: TargetTable, path: KeyPath, source: Source) -> Decimal | None:
    if table.factor is None:
        return None
    try:
        value = Decimal(table.factor)
    except InvalidOperation:
        value = Decimal("NaN")
    if not (value.is_finite() and 0 < value <= LARGEST_FACTOR):
        raise source.error(
            (*path, "factor"),
            f'"{table.factor}" is no factor of a bore; write one such as "0.0045" (at most {LARGEST_FACTOR})',
        )
    return value


def _check_signs(recipe: Recipe, signed: bool, path: KeyPath, source: Source) -> None:
    if signed and not recipe.filed:
        return
    for key in ("aim", "maker", "lower", "upper"):
        figure: Length | None = getattr(recipe, key)
        if figure is None:
            continue
        if recipe.filed and figure.value <= 0:
            raise source.error(
                (*path, key), f"a gap of {figure} isn't above zero; write what the gap is to become"
            )
        if figure.value < 0:
            raise source.error(
                (*path, key),
                f"{figure} is below zero; write signed = true in the check if readings may be, or mend it",
            )


def _with_factor(
    recipe: Recipe, row: _TargetRow, rule: Rule, item: Position, engine: Engine, source: Source
) -> Recipe:
    """Return the recipe with the usual factor of the duty, if it has no other aim."""
    if rule is not Rule.FILE_TO_GAP or recipe.factor is not None:
        return recipe
    name = row.table.duty or engine.duty
    if name is None or (recipe.aim is not None and row.table.duty is None):
        return recipe
    source.one_of((*row.place, "duty"), name, duties(), "duty")
    ring = item.get("ring") or ""
    if ring in OIL_RAILS:
        return replace(recipe, least=least_rail_gap())
    if ring == "second" and engine.second_ring is SecondRing.NARROWER:
        factor = duties()[name].factor("top")
    else:
        factor = duties()[name].factor(ring)
    if factor is None:
        if recipe.maker is not None or recipe.aim is not None:
            return recipe
        raise source.error(
            row.place, f'there is no usual factor for {item}; write "maker", "aim" or "factor" in its target'
        )
    about = duties()[name].about
    return replace(
        recipe, factor=factor, origin=f"usual factor for {ring} rings, {about} (common practice, no source)"
    )


def _check_order(target: Target, signed: bool, path: KeyPath, source: Source) -> None:
    if target.lower.value < 0 and not signed:
        raise source.error(
            path,
            f"the lower limit comes to {target.lower}, below zero; write signed = true in the check if "
            "readings may be, or mend it",
        )
    if target.lower.mm > target.upper.mm:
        raise source.error(
            path,
            f"the lower limit {target.lower} is above the upper limit {target.upper}; swap them or mend one",
        )
    if not target.lower.mm <= target.aim.mm <= target.upper.mm:
        raise source.error(
            path,
            f"the aim {target.aim} isn't within its limits {target.lower} to {target.upper}; mend one",
        )


def _check_gap(target: Target, bore: Length | None, path: KeyPath, source: Source) -> None:
    if bore is None:
        return
    for figure in (target.aim, target.upper):
        if figure.mm > bore.mm * LARGEST_GAP_PER_BORE:
            raise source.error(
                path, f"a gap of {figure} is more than a ring in a bore of {bore} can have; check its unit"
            )
    if target.aim.mm < bore.mm * SMALLEST_GAP_PER_BORE:
        raise source.error(
            path, f"a gap of {target.aim} is too little for a ring in a bore of {bore}; check its unit"
        )


Window = tuple[Length, Length]

# All [common practice, no source].
FROM = Decimal("0.25")  # of the aim
TO = Decimal("2.5")
PART_FROM = Decimal("0.8")  # of a part's nominal size, which is known better than a gap
PART_TO = Decimal("1.2")
TOLERANCES = 10  # a part is looked for no further apart than this many times the tolerance
SIZE_OF_WIDTH = 100  # an aim this many times its tolerance is a size, such as a bore, and no gap


def build_windows(
    table: CheckTable,
    path: KeyPath,
    unit: Unit,
    positions: tuple[Position, ...],
    parts: tuple[Part, ...],
    targets: Mapping[Position, Target],
    source: Source,
    shims: tuple[Length, ...] = (),
) -> dict[Position, Window]:
    """Return the plausible window of each position: a quarter to two and a half times the aim, or as set.

    A part, and what is aimed at as closely as a bore, has five times the tolerance to either side of its
    size, a shim what the shims that can be had span. A lash has up to two and a half times the aim. Where
    there are several parts a window belongs to a part, otherwise to the check.

    Raises:
        PlanError: a window that isn't two lengths, the smaller first, or one in the wrong table.
    """
    set_here = None
    if table.window is not None:
        if parts:
            raise source.error(
                (*path, "window"), "the parts are what is read; write a window in each [[check.part]]"
            )
        set_here = _set((*path, "window"), table.window, unit, source)
    own: dict[str, Window] = {}
    for number, part in enumerate(table.part):
        if part.window is not None:
            own[part.name] = _set((*path, "part", number, "window"), part.window, unit, source)
    known = {part.name: part for part in parts}
    windows: dict[Position, Window] = {}
    for position in positions:
        if parts:
            name = position.labels[-1][1]
            item = Position(position.labels[:-1])
            windows[position] = own.get(name) or _of_part(
                known[name], targets[item], shims, signed=table.signed
            )
        elif position in targets:
            windows[position] = set_here or _of_target(targets[position], table.signed)
    return windows


def _set(where: KeyPath, figures: list[Figure], unit: Unit, source: Source) -> Window:
    ends = [source.length(where, figure, unit) for figure in figures]
    if len(ends) != 2 or ends[0].mm > ends[1].mm:
        raise source.error(where, 'a window is two lengths, the smaller first: ["4 thou", "45 thou"]')
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
    if 0 < width * SIZE_OF_WIDTH <= aim.mm:
        return _of_size(aim, target)
    ends = [Length(aim.value * share, aim.unit) for share in (FROM, TO)]
    # Wide enough for a reading at a limit, and for one as far beyond it again.
    for limit, sign in ((target.lower, -1), (target.upper, 1)):
        beyond = Length(limit.value, limit.unit)
        if target.lower.unit == target.upper.unit and (target.lower.value <= 0 or width == 0):
            beyond = Length(limit.value + sign * (target.upper.value - target.lower.value), limit.unit)
        ends.append(beyond)
    low, high = min(ends, key=lambda end: end.mm), max(ends, key=lambda end: end.mm)
    return (low if signed or low.value >= 0 else Length(Decimal(0), low.unit)), high
