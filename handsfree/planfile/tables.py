"""The schema of a plan file: its keys and their types. `build` gives them their meaning."""

from __future__ import annotations

from decimal import Decimal
from typing import Annotated

from pydantic import AfterValidator, BaseModel, ConfigDict, Field
from pydantic_core import PydanticCustomError


def _printable(text: str) -> str:
    # A name is shown, printed and spoken: control characters and reversed text could deceive.
    if not text.isprintable() or not text.strip():
        raise PydanticCustomError("unprintable", "write it in plain printable words")
    return text


Figure = str | int | Decimal
Words = Annotated[str, Field(min_length=1, max_length=80), AfterValidator(_printable)]


class Table(BaseModel):
    """Base of every table in a plan: an unknown key is an error."""

    model_config = ConfigDict(extra="forbid", strict=True, frozen=True)


class EngineTable(Table):
    """``[engine]``: the engine on the bench."""

    name: Words
    bore: Figure | None = None
    bores: dict[str, Figure] = {}
    duty: str | None = None
    second_ring: str = "free"


class InstrumentTable(Table):
    """``[[instrument]]``: an instrument, with one statement of its uncertainty."""

    name: Words
    standard: Figure | None = None
    expanded: Figure | None = None
    within: Figure | None = None


class FeelersTable(Table):
    """``[feelers]``: the leaves in the drawer."""

    leaves: list[Figure] = Field(min_length=1)
    unit: str = "thou"


class FilingTable(Table):
    """``[filing]``: the caution of the advice on the next pass."""

    risk: Decimal | str = Decimal("0.05")


class HotTable(Table):
    """``[hot]``: assumptions about a running engine."""

    ring: Figure
    bore: Figure
    ring_rise: int | Decimal | list[int | Decimal]
    bore_rise: int | Decimal
    margin: Figure


class TargetTable(Table):
    """``[[check.target]]``: a target; other keys are axes and select its positions."""

    model_config = ConfigDict(extra="allow", strict=True, frozen=True)

    aim: Figure | None = None
    maker: Figure | None = None
    factor: str | Decimal | None = None
    duty: str | None = None
    lower: Figure | None = None
    upper: Figure | None = None
    plus: Figure | None = None
    minus: Figure | None = None
    source: Words | None = None


class PartTable(Table):
    """``[[check.part]]``: one part of a difference or a shim."""

    name: Words
    nominal: Figure | None = None
    given: Figure | None = None
    window: list[Figure] | None = None
    instrument: str | None = None


class ShimsTable(Table):
    """``[check.shims]``: the available sizes, one by one or as a series."""

    sizes: list[Figure] | None = None
    least: Figure | None = None
    most: Figure | None = None
    step: Figure | None = None
    reuse: bool = False


class ShareTable(Table):
    """``[check.share]``: the rings of this check are all tried in one bore, then assigned to bores."""

    to: str
    tried_in: str | int
    like: dict[str, str | int] = {}


class CheckTable(Table):
    """``[[check]]``: one check."""

    name: Words
    rule: str
    unit: str = "thou"
    order: str | None = None
    axes: dict[str, int | list[str | int]]
    window: list[Figure] | None = None
    step: Figure | None = None
    signed: bool = False
    instrument: str | None = None
    bores_from: str | None = None
    gap_at: str | int | None = None
    formula: str | None = None
    correlation: Decimal | int | str | None = None
    part: list[PartTable] = []
    shims: ShimsTable | None = None
    share: ShareTable | None = None
    target: list[TargetTable] = []


class PlanTable(Table):
    """The whole file."""

    format: int
    name: Words
    acceptance: str = "simple"
    confidence: Decimal | str = Decimal("0.95")
    engine: EngineTable
    instrument: list[InstrumentTable] = []
    feelers: FeelersTable | None = None
    filing: FilingTable = FilingTable()
    hot: HotTable | None = None
    check: list[CheckTable] = Field(min_length=1)


def known_keys() -> dict[str, list[str]]:
    """Return the keys of each kind of table, by the name of the table."""
    tables: dict[str, type[Table]] = {
        "": PlanTable,
        "engine": EngineTable,
        "instrument": InstrumentTable,
        "feelers": FeelersTable,
        "filing": FilingTable,
        "hot": HotTable,
        "check": CheckTable,
        "target": TargetTable,
        "part": PartTable,
        "shims": ShimsTable,
        "share": ShareTable,
    }
    return {name: list(table.model_fields) for name, table in tables.items()}
