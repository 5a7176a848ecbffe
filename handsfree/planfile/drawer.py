"""Builds the instruments, the feeler leaves and the assumptions about heat."""

from __future__ import annotations

from decimal import Decimal, InvalidOperation

from handsfree.errors import did_you_mean
from handsfree.length import Length
from handsfree.plan import Hot, Instrument, Material, Stated, materials
from handsfree.planfile.source import Place, Source
from handsfree.planfile.tables import FeelersSheet, Figure, HotSheet, InstrumentSheet

MOST_LEAVES = 60  # two big sets in one drawer; the number of stacks of three grows with the cube
HOTTEST_RISE = 1000  # kelvin; beyond that aluminium and iron are no longer solid
LARGEST_EXPANSION = Decimal("100e-6")  # per kelvin; metals lie between 1e-6 and 40e-6


def build_instruments(sheets: list[InstrumentSheet], source: Source) -> dict[str, Instrument]:
    """Return the instruments by name.

    Raises:
        PlanError: a repeated name, or other than exactly one uncertainty above zero.
    """
    instruments: dict[str, Instrument] = {}
    for number, sheet in enumerate(sheets):
        place: Place = ("instrument", number)
        if sheet.name in instruments:
            raise source.fault((*place, "name"), f'two instruments are named "{sheet.name}"; rename one')
        stated = [form for form in Stated if getattr(sheet, form.value) is not None]
        if len(stated) != 1:
            raise source.fault(
                place, f'"{sheet.name}" needs one of "standard", "expanded" or "within", and no more than one'
            )
        where: Place = (*place, stated[0].value)
        given = source.length(where, getattr(sheet, stated[0].value), None)
        if given.value <= 0:
            raise source.fault(
                where, f"an uncertainty of {given} isn't above zero; write how far off it may be"
            )
        instruments[sheet.name] = Instrument(sheet.name, given, stated[0])
    return instruments


def build_leaves(sheet: FeelersSheet | None, source: Source) -> tuple[Length, ...]:
    """Return the feeler leaves, thinnest first.

    Raises:
        PlanError: an invalid or repeated leaf.
    """
    if sheet is None:
        return ()
    place: Place = ("feelers", "leaves")
    unit = source.unit(("feelers", "unit"), sheet.unit)
    leaves = [source.length(place, figure, unit) for figure in sheet.leaves]
    if len(leaves) > MOST_LEAVES:
        raise source.fault(
            place, f"{len(leaves)} leaves are more than {MOST_LEAVES}; write those that you use"
        )
    for index, leaf in enumerate(leaves):
        if leaf.value <= 0:
            raise source.fault(place, f"a leaf of {leaf} isn't above zero; write its thickness")
        if leaf.mm in {other.mm for other in leaves[:index]}:
            raise source.fault(place, f"the leaf {leaf} stands there twice; write each once")
    return tuple(sorted(leaves, key=lambda leaf: leaf.mm))


def build_hot(sheet: HotSheet | None, source: Source) -> Hot | None:
    """Return the assumptions about heat.

    Raises:
        PlanError: an unknown material, or an invalid figure.
    """
    if sheet is None:
        return None
    rise = sheet.ring_rise if isinstance(sheet.ring_rise, list) else [sheet.ring_rise] * 2
    if len(rise) != 2 or rise[0] > rise[1]:
        raise source.fault(
            ("hot", "ring_rise"), "the rise is one figure in kelvin or two, the lesser first: [180, 220]"
        )
    for key, figure in (("ring_rise", rise[0]), ("ring_rise", rise[1]), ("bore_rise", sheet.bore_rise)):
        if not 0 <= figure <= HOTTEST_RISE:
            raise source.fault(
                ("hot", key), f"a rise of {figure} K can't be; write one from 0 to {HOTTEST_RISE}"
            )
    margin = source.length(("hot", "margin"), sheet.margin, None)
    if margin.value < 0:
        raise source.fault(("hot", "margin"), f"a margin of {margin} is below zero; write what must be left")
    return Hot(
        _material(("hot", "ring"), sheet.ring, source),
        _material(("hot", "bore"), sheet.bore, source),
        (Decimal(rise[0]), Decimal(rise[1])),
        Decimal(sheet.bore_rise),
        margin,
    )


def _material(place: Place, figure: Figure, source: Source) -> Material:
    known = materials()
    if isinstance(figure, str) and figure in known:
        return Material(figure, known[figure])
    try:
        expansion = Decimal(str(figure))
    except InvalidOperation:
        raise source.fault(
            place,
            f'"{figure}" is neither a known material nor an expansion in 1/K such as "11e-6"; '
            f"{did_you_mean(str(figure), known)}",
        ) from None
    if not (expansion.is_finite() and 0 < expansion <= LARGEST_EXPANSION):
        raise source.fault(place, f'no metal expands by {figure} per kelvin; write one such as "11e-6"')
    return Material(f"{expansion} per kelvin", expansion)
