"""Builds the parts of a difference or a shim, and the available shims."""

from __future__ import annotations

import re
from collections.abc import Mapping
from decimal import Decimal
from fractions import Fraction

from handsfree.errors import did_you_mean
from handsfree.length import Length, Unit
from handsfree.plan import Axis, Check, Instrument, Part, Rule, Share
from handsfree.planfile.source import KeyPath, Source
from handsfree.planfile.tables import CheckTable, PartTable, ShareTable
from handsfree.planfile.written import WrittenError

_TERM = re.compile(r"\s*([+-])?\s*(\d+(?:\.\d+)?(?:\s*/\s*\d+)?)?\s*\*?\s*([a-z]+(?: [a-z]+)*)\s*")


def parse_formula(text: str) -> dict[str, Fraction]:
    """Return the multiplier of each part, in the order written.

    A multiplier is a whole number, a decimal or a fraction with a finite decimal, so that sums of
    readings stay exact.

    Raises:
        WrittenError: the formula is invalid, names a part twice, or has an invalid multiplier.

    >>> parse_formula("housing - 2 shell - journal")
    {'housing': Fraction(1, 1), 'shell': Fraction(-2, 1), 'journal': Fraction(-1, 1)}
    >>> parse_formula("1/2 front + 1/2 rear")["rear"]
    Fraction(1, 2)
    """
    terms: dict[str, Fraction] = {}
    at = 0
    while at < len(text):
        found = _TERM.match(text, at)
        if found is None or (terms and found[1] is None):
            raise WrittenError(f'"{text}" is no sum of parts; write it like "housing - 2 shell - journal"')
        sign, times, name = found.groups()
        if name in terms:
            raise WrittenError(f'the part "{name}" stands in it twice; write it once, with a multiplier')
        terms[name] = _formula_times(times or "1", text) * (-1 if sign == "-" else 1)
        at = found.end()
    if not terms:
        raise WrittenError('the formula is empty; write it like "housing - journal"')
    return terms


def _formula_times(written: str, text: str) -> Fraction:
    top, _, bottom = written.replace(" ", "").partition("/")
    if bottom and int(bottom) == 0:
        raise WrittenError(f'"{text}" divides by zero; mend the multiplier')
    value = Fraction(top) / int(bottom or 1)
    rest = value.denominator
    for prime in (2, 5):
        while rest % prime == 0:
            rest //= prime
    if value == 0 or rest != 1:
        raise WrittenError(f'the multiplier {written} in "{text}" has no finite decimal; use one that has')
    return value


MOST_SHIMS = 500


def build_parts(
    table: CheckTable,
    path: KeyPath,
    rule: Rule,
    unit: Unit,
    instruments: dict[str, Instrument],
    source: Source,
) -> tuple[Part, ...]:
    """Return the parts with their multipliers.

    Without a formula a difference is its first part minus all the others, and a shim is the sum of its
    parts: the old shim (or washers), and last the lash (or float).

    Raises:
        PlanError: parts in a check that has none, too few, named twice, not in the formula, or without a
            nominal size.
    """
    takes_parts = rule in (Rule.DIFFERENCE, Rule.SHIM)
    if not takes_parts:
        if table.part or table.formula is not None:
            key = "part" if table.part else "formula"
            raise source.error((*path, key), f'the rule "{rule}" reads no parts; take them out')
        return ()
    if len(table.part) < 2:
        raise source.error(
            path, f'the rule "{rule}" needs at least two [[check.part]], such as a bore and a journal'
        )
    names = [part.name for part in table.part]
    for number, name in enumerate(names):
        if name in names[:number]:
            raise source.error(
                (*path, "part", number, "name"), f'the part "{name}" stands there twice; rename one'
            )
    times = _times(table, path, rule, names, source)
    return tuple(
        _part(
            part,
            (*path, "part", number),
            times[part.name],
            rule is Rule.SHIM and number == len(names) - 1,
            unit,
            instruments,
            source,
        )
        for number, part in enumerate(table.part)
    )


def _times(
    table: CheckTable, path: KeyPath, rule: Rule, names: list[str], source: Source
) -> dict[str, Fraction]:
    if table.formula is None:
        others = 1 if rule is Rule.SHIM else -1
        return {name: Fraction(1 if number == 0 else others) for number, name in enumerate(names)}
    where: KeyPath = (*path, "formula")
    try:
        times = parse_formula(table.formula)
    except WrittenError as error:
        raise source.error(where, str(error)) from None
    for name in times:
        if name not in names:
            raise source.error(where, f'"{name}" is no part of this check; {did_you_mean(name, names)}')
    for name in names:
        if name not in times:
            raise source.error(where, f'the part "{name}" is not in the formula; add it or take the part out')
    if rule is Rule.SHIM and times[names[-1]] != 1:
        raise source.error(
            where, f'"{names[-1]}", the last part, is the lash and counts once; write + {names[-1]}'
        )
    return times


def _part(
    table: PartTable,
    path: KeyPath,
    times: Fraction,
    is_lash: bool,
    unit: Unit,
    instruments: dict[str, Instrument],
    source: Source,
) -> Part:
    nominal = None if table.nominal is None else source.length((*path, "nominal"), table.nominal, unit)
    given = None if table.given is None else source.length((*path, "given"), table.given, unit)
    if nominal is not None and given is not None:
        raise source.error((*path, "given"), 'a part whose size is "given" isn\'t read; take "nominal" out')
    if nominal is None and given is None and not is_lash:
        raise source.error(
            path, f'the part "{table.name}" has no "nominal"; write about what it reads, such as "50 mm"'
        )
    for key, figure in (("nominal", nominal), ("given", given)):
        if figure is not None and figure.value <= 0:
            raise source.error(
                (*path, key), f"a size of {figure} isn't above zero; write what the part measures"
            )
    instrument = None
    if table.instrument is not None:
        instrument = instruments[
            source.one_of((*path, "instrument"), table.instrument, instruments, "instrument")
        ]
    return Part(table.name, times, nominal, given, instrument)


def build_shims(
    table: CheckTable, path: KeyPath, rule: Rule, unit: Unit, source: Source
) -> tuple[Length, ...]:
    """Return the available sizes of shims, smallest first.

    Raises:
        PlanError: no sizes for a check of shims, or invalid sizes.
    """
    where: KeyPath = (*path, "shims")
    if rule is not Rule.SHIM:
        if table.shims is not None:
            raise source.error(where, f'the rule "{rule}" picks no shims; take them out')
        return ()
    shims = table.shims
    if shims is None:
        raise source.error(path, 'there are no [check.shims]; write "sizes", or "least", "most" and "step"')
    if shims.sizes is not None:
        sizes = [source.length((*where, "sizes"), figure, unit) for figure in shims.sizes]
    else:
        sizes = _series(table, where, unit, source)
    if not sizes:
        raise source.error(where, "there is no size to pick from; write those that can be had")
    if any(size.value <= 0 for size in sizes):
        raise source.error(where, "a shim of nothing or less can't be had; mend the sizes")
    return tuple({size.mm: size for size in sorted(sizes, key=lambda size: size.mm)}.values())


def build_reuse(table: CheckTable, path: KeyPath, parts: tuple[Part, ...], source: Source) -> bool:
    """Return whether a shim that comes out of one place may go into another.

    Raises:
        PlanError: the old shim is a sum of several, or isn't measured, so that no single shim comes out.
    """
    reuse = table.shims is not None and table.shims.reuse
    if reuse and (len(parts) != 2 or parts[0].given is not None or parts[0].times != 1):
        raise source.error(
            (*path, "shims", "reuse"),
            "only where one measured shim and a lash are the parts can a shim be used again; take it out",
        )
    return reuse


def _series(table: CheckTable, where: KeyPath, unit: Unit, source: Source) -> list[Length]:
    shims = table.shims
    assert shims is not None  # noqa: S101 - the caller has looked
    ends = {}
    for key in ("least", "most", "step"):
        figure = getattr(shims, key)
        if figure is None:
            raise source.error(where, f'a series of shims needs "{key}"; add it, or list the "sizes"')
        ends[key] = source.length((*where, key), figure, unit)
    least, most, step = ends["least"], ends["most"], ends["step"]
    if len({end.unit for end in ends.values()}) > 1:
        raise source.error(where, "the series mixes units; write least, most and step in one")
    if step.value <= 0 or least.value > most.value:
        raise source.error(where, f"there is no series from {least} to {most} by {step}; mend it")
    count = int((most.value - least.value) // step.value) + 1
    if count > MOST_SHIMS:
        raise source.error((*where, "step"), f"that would be {count} sizes; write a larger step")
    return [Length(least.value + step.value * Decimal(number), least.unit) for number in range(count)]


BORE_AXIS = "cylinder"


def build_share(
    table: ShareTable | None, path: KeyPath, rule: Rule, axes: tuple[Axis, ...], source: Source
) -> Share | None:
    """Return a check's assignment of tried rings to bores, or None if it has none.

    Raises:
        PlanError: the check isn't one of direct readings with one axis, the rings.
    """
    if table is None:
        return None
    where: KeyPath = (*path, "share")
    if rule is not Rule.LIMITS or len(axes) != 1:
        raise source.error(
            where,
            'rings that are tried in one bore are a check of the rule "limits" with one axis, the rings',
        )
    like = tuple((axis, str(label)) for axis, label in table.like.items())
    return Share(table.to, str(table.tried_in), like)


def check_shares(checks: list[Check], source: Source) -> None:
    """Check that every assignment of rings names an existing check, bore and kind of ring.

    Raises:
        PlanError: no such check of gaps, bore or ring.
    """
    gaps: Mapping[str, Check] = {check.name: check for check in checks if check.rule is Rule.FILE_TO_GAP}
    for number, check in enumerate(checks):
        if check.share is None:
            continue
        path: KeyPath = ("check", number, "share")
        to = gaps[source.one_of((*path, "to"), check.share.to, gaps, "check of gaps to file")]
        axes = {axis.name: axis.labels for axis in to.axes}
        if BORE_AXIS not in axes:
            raise source.error(
                (*path, "to"), f'"{to.name}" has no axis "{BORE_AXIS}", so no bores to share among'
            )
        source.one_of((*path, "tried_in"), check.share.tried_in, axes[BORE_AXIS], "cylinder")
        given = dict(check.share.like)
        for axis, label in given.items():
            source.one_of((*path, "like"), axis, [name for name in axes if name != BORE_AXIS], "axis")
            source.one_of((*path, "like"), label, axes[axis], axis)
        for axis in axes:
            if axis != BORE_AXIS and axis not in given:
                raise source.error(
                    (*path, "like"), f'which {axis} these are isn\'t said; write like = {{ {axis} = "..." }}'
                )
