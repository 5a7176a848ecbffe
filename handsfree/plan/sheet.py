"""The form of a plan file: which keys there are and of what type. `load` says what they mean."""

from __future__ import annotations

from decimal import Decimal
from typing import Annotated

from pydantic import BaseModel, ConfigDict, Field

Figure = str | int | Decimal
Words = Annotated[str, Field(min_length=1, max_length=80)]


class Sheet(BaseModel):
    """Base of every table in a plan: a key that isn't known is an error."""

    model_config = ConfigDict(extra="forbid", strict=True, frozen=True)


class EngineSheet(Sheet):
    """``[engine]``: what is on the bench."""

    name: Words
    bore: Figure | None = None
    bores: dict[str, Figure] = {}


class TargetSheet(Sheet):
    """``[[check.target]]``: a target; other keys are axes and say which positions it is for."""

    model_config = ConfigDict(extra="allow", strict=True, frozen=True)

    aim: Figure | None = None
    lower: Figure | None = None
    upper: Figure | None = None
    plus: Figure | None = None
    minus: Figure | None = None
    window: list[Figure] | None = None


class CheckSheet(Sheet):
    """``[[check]]``: one check."""

    name: Words
    rule: str
    unit: str = "thou"
    order: str | None = None
    axes: dict[str, int | list[str | int]]
    window: list[Figure] | None = None
    target: list[TargetSheet] = []


class PlanSheet(Sheet):
    """The whole file."""

    format: int
    name: Words
    engine: EngineSheet
    check: list[CheckSheet] = Field(min_length=1)


def known_keys() -> dict[str, list[str]]:
    """Give the keys of each kind of table, by the name of the table."""
    sheets: dict[str, type[Sheet]] = {
        "": PlanSheet,
        "engine": EngineSheet,
        "check": CheckSheet,
        "target": TargetSheet,
    }
    return {name: list(sheet.model_fields) for name, sheet in sheets.items()}
