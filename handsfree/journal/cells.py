"""Checks of an event's columns: all that this program writes passes, nothing that could choke a reader does.

Anyone who may write a journal's file can alter it. So every cell is checked as it is read: its type, and
bounds far beyond what a bench produces, but small enough that no cell costs much time or memory.
"""

from __future__ import annotations

import math
from datetime import UTC, datetime
from decimal import Decimal, InvalidOperation
from enum import StrEnum
from typing import Any, NoReturn, TypeVar

from handsfree.journal.event import LeafSide
from handsfree.textfile import parse_json

Word = TypeVar("Word", bound=StrEnum)
Cell = str | int | float | None

MOST_EVENTS = 10**9  # in one journal
_MOST_DIGITS = 60  # of a measurement, before and after the point
_MOST_LABELS = 20  # of a position
_DAY_MINUTES = 24 * 60
_YEARS = range(2, 9999)  # so that every time zone can show it
_VERDICTS = frozenset({"short", "good", "over", "uncertain", "open"})
_SHOWN = 40


def shown(cell: object) -> str:
    """Return a cell's content shortened to fit into a sentence.

    >>> shown("a" * 50)
    "'aaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaa'..."
    """
    if isinstance(cell, str | bytes):
        return repr(cell[:_SHOWN]) + ("..." if len(cell) > _SHOWN else "")
    return repr(cell)[:_SHOWN]


def whole(name: str, cell: Cell, least: int, most: int) -> int:
    """Return a cell as a whole number from `least` to `most`, both included.

    Raises:
        ValueError: it isn't one. All functions here that read a cell raise this.
    """
    if isinstance(cell, bool) or not isinstance(cell, int) or not least <= cell <= most:
        _refuse(name, cell)
    return cell


def number_of(cell: Cell) -> int:
    """Read the number of an event."""
    return whole("seq", cell, 1, MOST_EVENTS)


def offset_of(cell: Cell) -> int:
    """Read a time zone's offset from UTC in minutes."""
    return whole("offset_minutes", cell, 1 - _DAY_MINUTES, _DAY_MINUTES - 1)


def text(name: str, cell: object) -> str:
    """Read a required text."""
    return cell if isinstance(cell, str) else _refuse(name, cell)


def one_of(name: str, cell: Cell, words: type[Word]) -> Word:
    """Read one of the words of an enumeration."""
    try:
        return words(text(name, cell))
    except ValueError:
        _refuse(name, cell)


def optional_text(name: str, cell: Cell) -> str | None:
    """Read an optional text."""
    return None if cell is None else text(name, cell)


def optional_number(name: str, cell: Cell) -> float | None:
    """Read an optional finite number."""
    if cell is None:
        return None
    if not isinstance(cell, int | float) or not math.isfinite(cell):
        _refuse(name, cell)
    return float(cell)


def decimal(name: str, cell: object) -> Decimal:
    """Read a decimal of at most 60 digits, exactly as written: 18.50 stays 18.50."""
    written = str(cell) if isinstance(cell, str | int | float) else ""
    try:
        value = Decimal(written) if len(written) <= 2 * _MOST_DIGITS else Decimal("NaN")
    except InvalidOperation:
        value = Decimal("NaN")
    _, digits, exponent = value.as_tuple()
    if not isinstance(exponent, int) or abs(exponent) > _MOST_DIGITS or len(digits) > _MOST_DIGITS:
        _refuse(name, cell)
    return value


def time_of(cell: Cell) -> datetime:
    """Read a time in UTC."""
    written = text("at", cell)
    try:
        at = datetime.fromisoformat(written)
    except ValueError:
        _refuse("at", cell)
    if at.tzinfo is None or at.year not in _YEARS:
        _refuse("at", cell)
    return at.astimezone(UTC)


def verdict_of(cell: Cell) -> str | None:
    """Read a verdict."""
    return cell if cell is None or cell in _VERDICTS else _refuse("verdict", cell)


def bound_of(cell: Cell) -> LeafSide | None:
    """Read the side of its value on which a measurement lies."""
    return None if cell is None else one_of("bound", cell, LeafSide)


def labels_of(cell: Cell) -> tuple[tuple[str, str], ...] | None:
    """Read a position's pairs of axis and label from their JSON."""
    if cell is None:
        return None
    pairs = _json("labels", cell)
    if not isinstance(pairs, list) or len(pairs) > _MOST_LABELS:
        _refuse("labels", cell)
    found = []
    for pair in pairs:
        if not isinstance(pair, list) or len(pair) != 2 or not all(isinstance(one, str) for one in pair):
            _refuse("labels", cell)
        found.append((pair[0], pair[1]))
    return tuple(found)


def data_of(cell: Cell) -> dict[str, object]:
    """Read the JSON object of the further data of an event's kind."""
    return {} if cell is None else object_of("data", cell)


def object_of(name: str, cell: object) -> dict[str, Any]:
    """Read a JSON object with limited nesting and only finite numbers."""
    found = _json(name, cell)
    return found if isinstance(found, dict) else _refuse(name, cell)


def _json(name: str, cell: object) -> object:
    try:
        return parse_json(text(name, cell))
    except ValueError:
        _refuse(name, cell)


def _refuse(name: str, cell: object) -> NoReturn:
    raise ValueError(f"its {name} is {shown(cell)}")
