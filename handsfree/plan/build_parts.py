"""The parts of a difference or a shim, and the shims that can be had."""

from __future__ import annotations

from decimal import Decimal
from fractions import Fraction

from handsfree.length import Length, Unit
from handsfree.plan.certainty import Instrument
from handsfree.plan.check import Part, Rule
from handsfree.plan.fault import Source
from handsfree.plan.formula import parse_formula
from handsfree.plan.sheet import CheckSheet, PartSheet
from handsfree.plan.where import Place
from handsfree.plan.written import WrittenError, did_you_mean

MOST_SHIMS = 500


def build_parts(
    sheet: CheckSheet,
    place: Place,
    rule: Rule,
    unit: Unit,
    instruments: dict[str, Instrument],
    source: Source,
) -> tuple[Part, ...]:
    """Give the parts with their multipliers.

    Without a formula a difference is its first part less all the others, and a shim the sum of
    its parts: the old shim (or washers), and last the lash (or float).

    Raises:
        PlanError: parts where none belong, too few, named twice, not in the formula, or without
            a nominal size.
    """
    takes_parts = rule in (Rule.DIFFERENCE, Rule.SHIM)
    if not takes_parts:
        if sheet.part or sheet.formula is not None:
            key = "part" if sheet.part else "formula"
            raise source.fault((*place, key), f'the rule "{rule}" reads no parts; take them out')
        return ()
    if len(sheet.part) < 2:
        raise source.fault(
            place, f'the rule "{rule}" needs at least two [[check.part]], such as a bore and a journal'
        )
    names = [part.name for part in sheet.part]
    for number, name in enumerate(names):
        if name in names[:number]:
            raise source.fault(
                (*place, "part", number, "name"), f'the part "{name}" stands there twice; rename one'
            )
    times = _times(sheet, place, rule, names, source)
    return tuple(
        _part(
            part,
            (*place, "part", number),
            times[part.name],
            rule is Rule.SHIM and number == len(names) - 1,
            unit,
            instruments,
            source,
        )
        for number, part in enumerate(sheet.part)
    )


def _times(
    sheet: CheckSheet, place: Place, rule: Rule, names: list[str], source: Source
) -> dict[str, Fraction]:
    if sheet.formula is None:
        others = 1 if rule is Rule.SHIM else -1
        return {name: Fraction(1 if number == 0 else others) for number, name in enumerate(names)}
    where: Place = (*place, "formula")
    try:
        times = parse_formula(sheet.formula)
    except WrittenError as error:
        raise source.fault(where, str(error)) from None
    for name in times:
        if name not in names:
            raise source.fault(where, f'"{name}" is no part of this check; {did_you_mean(name, names)}')
    for name in names:
        if name not in times:
            raise source.fault(where, f'the part "{name}" is not in the formula; add it or take the part out')
    if rule is Rule.SHIM and times[names[-1]] != 1:
        raise source.fault(
            where, f'"{names[-1]}", the last part, is the lash and counts once; write + {names[-1]}'
        )
    return times


def _part(
    sheet: PartSheet,
    place: Place,
    times: Fraction,
    is_lash: bool,
    unit: Unit,
    instruments: dict[str, Instrument],
    source: Source,
) -> Part:
    nominal = None if sheet.nominal is None else source.length((*place, "nominal"), sheet.nominal, unit)
    given = None if sheet.given is None else source.length((*place, "given"), sheet.given, unit)
    if nominal is not None and given is not None:
        raise source.fault((*place, "given"), 'a part whose size is "given" isn\'t read; take "nominal" out')
    if nominal is None and given is None and not is_lash:
        raise source.fault(
            place, f'the part "{sheet.name}" has no "nominal"; write about what it reads, such as "50 mm"'
        )
    for key, figure in (("nominal", nominal), ("given", given)):
        if figure is not None and figure.value <= 0:
            raise source.fault(
                (*place, key), f"a size of {figure} isn't above zero; write what the part measures"
            )
    instrument = None
    if sheet.instrument is not None:
        instrument = instruments[
            source.one_of((*place, "instrument"), sheet.instrument, instruments, "instrument")
        ]
    return Part(sheet.name, times, nominal, given, instrument)


def build_shims(
    sheet: CheckSheet, place: Place, rule: Rule, unit: Unit, source: Source
) -> tuple[Length, ...]:
    """Give the sizes of shims that can be had, smallest first.

    Raises:
        PlanError: no sizes for a check of shims, or sizes that can't be.
    """
    where: Place = (*place, "shims")
    if rule is not Rule.SHIM:
        if sheet.shims is not None:
            raise source.fault(where, f'the rule "{rule}" picks no shims; take them out')
        return ()
    shims = sheet.shims
    if shims is None:
        raise source.fault(place, 'there are no [check.shims]; write "sizes", or "least", "most" and "step"')
    if shims.sizes is not None:
        sizes = [source.length((*where, "sizes"), figure, unit) for figure in shims.sizes]
    else:
        sizes = _series(sheet, where, unit, source)
    if not sizes:
        raise source.fault(where, "there is no size to pick from; write those that can be had")
    if any(size.value <= 0 for size in sizes):
        raise source.fault(where, "a shim of nothing or less can't be had; mend the sizes")
    return tuple({size.mm: size for size in sorted(sizes, key=lambda size: size.mm)}.values())


def build_reuse(sheet: CheckSheet, place: Place, parts: tuple[Part, ...], source: Source) -> bool:
    """Give whether a shim that comes out of one place may go into another.

    Raises:
        PlanError: what is in there is a sum of several, or not measured: no single shim comes out.
    """
    reuse = sheet.shims is not None and sheet.shims.reuse
    if reuse and (len(parts) != 2 or parts[0].given is not None or parts[0].times != 1):
        raise source.fault(
            (*place, "shims", "reuse"),
            "only where one measured shim and a lash are the parts can a shim be used again; take it out",
        )
    return reuse


def _series(sheet: CheckSheet, where: Place, unit: Unit, source: Source) -> list[Length]:
    shims = sheet.shims
    assert shims is not None  # noqa: S101 - the caller has looked
    ends = {}
    for key in ("least", "most", "step"):
        figure = getattr(shims, key)
        if figure is None:
            raise source.fault(where, f'a series of shims needs "{key}"; add it, or list the "sizes"')
        ends[key] = source.length((*where, key), figure, unit)
    least, most, step = ends["least"], ends["most"], ends["step"]
    if len({end.unit for end in ends.values()}) > 1:
        raise source.fault(where, "the series mixes units; write least, most and step in one")
    if step.value <= 0 or least.value > most.value:
        raise source.fault(where, f"there is no series from {least} to {most} by {step}; mend it")
    count = int((most.value - least.value) // step.value) + 1
    if count > MOST_SHIMS:
        raise source.fault((*where, "step"), f"that would be {count} sizes; write a larger step")
    return [Length(least.value + step.value * Decimal(number), least.unit) for number in range(count)]
