"""Builds the instruments, the feeler leaves and the assumptions about heat."""

from __future__ import annotations

from decimal import Decimal, InvalidOperation

from handsfree.errors import did_you_mean
from handsfree.length import Length
from handsfree.plan import Hot, Instrument, Material, Stated, materials
from handsfree.planfile.source import KeyPath, Source
from handsfree.planfile.tables import FeelersTable, Figure, HotTable, InstrumentTable

MOST_LEAVES = 60  # two big sets in one drawer; the number of stacks of three grows with the cube
HOTTEST_RISE = 1000  # kelvin; beyond that aluminium and iron are no longer solid
LARGEST_EXPANSION = Decimal("100e-6")  # per kelvin; metals lie between 1e-6 and 40e-6


def build_instruments(tables: list[InstrumentTable], source: Source) -> dict[str, Instrument]:
    """Return the instruments by name.

    Raises:
        PlanError: a repeated name, or other than exactly one uncertainty above zero.
    """
    instruments: dict[str, Instrument] = {}
    for number, table in enumerate(tables):
        path: KeyPath = ("instrument", number)
        if table.name in instruments:
            raise source.error((*path, "name"), f'two instruments are named "{table.name}"; rename one')
        stated = [form for form in Stated if getattr(table, form.value) is not None]
        if len(stated) != 1:
            raise source.error(
                path, f'"{table.name}" needs one of "standard", "expanded" or "within", and no more than one'
            )
        where: KeyPath = (*path, stated[0].value)
        given = source.length(where, getattr(table, stated[0].value), None)
        if given.value <= 0:
            raise source.error(
                where, f"an uncertainty of {given} isn't above zero; write how far off it may be"
            )
        instruments[table.name] = Instrument(table.name, given, stated[0])
    return instruments


def build_leaves(table: FeelersTable | None, source: Source) -> tuple[Length, ...]:
    """Return the feeler leaves, thinnest first.

    Raises:
        PlanError: an invalid or repeated leaf.
    """
    if table is None:
        return ()
    path: KeyPath = ("feelers", "leaves")
    unit = source.unit(("feelers", "unit"), table.unit)
    leaves = [source.length(path, figure, unit) for figure in table.leaves]
    if len(leaves) > MOST_LEAVES:
        raise source.error(
            path, f"{len(leaves)} leaves are more than {MOST_LEAVES}; write those that you use"
        )
    for index, leaf in enumerate(leaves):
        if leaf.value <= 0:
            raise source.error(path, f"a leaf of {leaf} isn't above zero; write its thickness")
        if leaf.mm in {other.mm for other in leaves[:index]}:
            raise source.error(path, f"the leaf {leaf} stands there twice; write each once")
    return tuple(sorted(leaves, key=lambda leaf: leaf.mm))


def build_hot(table: HotTable | None, source: Source) -> Hot | None:
    """Return the assumptions about heat.

    Raises:
        PlanError: an unknown material, or an invalid figure.
    """
    if table is None:
        return None
    rise = table.ring_rise if isinstance(table.ring_rise, list) else [table.ring_rise] * 2
    if len(rise) != 2 or rise[0] > rise[1]:
        raise source.error(
            ("hot", "ring_rise"), "the rise is one figure in kelvin or two, the lesser first: [180, 220]"
        )
    for key, figure in (("ring_rise", rise[0]), ("ring_rise", rise[1]), ("bore_rise", table.bore_rise)):
        if not 0 <= figure <= HOTTEST_RISE:
            raise source.error(
                ("hot", key), f"a rise of {figure} K can't be; write one from 0 to {HOTTEST_RISE}"
            )
    margin = source.length(("hot", "margin"), table.margin, None)
    if margin.value < 0:
        raise source.error(("hot", "margin"), f"a margin of {margin} is below zero; write what must be left")
    return Hot(
        _material(("hot", "ring"), table.ring, source),
        _material(("hot", "bore"), table.bore, source),
        (Decimal(rise[0]), Decimal(rise[1])),
        Decimal(table.bore_rise),
        margin,
    )


def _material(path: KeyPath, figure: Figure, source: Source) -> Material:
    known = materials()
    if isinstance(figure, str) and figure in known:
        return Material(figure, known[figure])
    try:
        expansion = Decimal(str(figure))
    except InvalidOperation:
        raise source.error(
            path,
            f'"{figure}" is neither a known material nor an expansion in 1/K such as "11e-6"; '
            f"{did_you_mean(str(figure), known)}",
        ) from None
    if not (expansion.is_finite() and 0 < expansion <= LARGEST_EXPANSION):
        raise source.error(path, f'no metal expands by {figure} per kelvin; write one such as "11e-6"')
    return Material(f"{expansion} per kelvin", expansion)
