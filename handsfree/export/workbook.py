"""A session as a spreadsheet (XLSX): results, the whole log, and what it rests on.

Measurements are real numbers, each in a cell of its own with its unit beside it and in its format; text
is always text, whatever it starts with. The same session gives the same bytes.

Source: Office Open XML (ISO/IEC 29500), written with XlsxWriter.
"""

from __future__ import annotations

import io
import re
from collections.abc import Iterable, Sequence
from datetime import UTC, datetime
from decimal import Decimal
from functools import lru_cache
from typing import TYPE_CHECKING

from handsfree.errors import HandsfreeError, install_extra
from handsfree.export.csv_json import axes_of, harmless, header, row
from handsfree.journal import Event, head
from handsfree.length import Length
from handsfree.session import Result, Session, results

if TYPE_CHECKING:
    from xlsxwriter import Workbook
    from xlsxwriter.format import Format

_UNWRITABLE = re.compile("[\x00-\x08\x0b\x0c\x0e-\x1f\ud800-\udfff\ufffe\uffff]")  # not in XML
_LONGEST = 32_767  # characters that a cell can hold
_CUT = " ... (longer than a cell; whole in CSV and JSON)"
_MADE = datetime(1980, 1, 1, tzinfo=UTC)  # no clock may get into the bytes
_LENGTHS = frozenset({"value", "other", "remaining", "aim", "lower", "upper", "reading"})

Plain = str | int | float | Decimal | bool | None


def to_xlsx(session: Session, events: Iterable[Event]) -> bytes:
    """Write a session as a workbook of three sheets: results, log, about.

    Raises:
        HandsfreeError: XlsxWriter isn't installed.
    """
    try:
        import xlsxwriter
    except ImportError as fault:
        raise HandsfreeError(
            f"Spreadsheets need the package XlsxWriter: {install_extra('export')}, or export as CSV."
        ) from fault
    events = list(events)
    axes = axes_of(session)
    buffer = io.BytesIO()
    book = xlsxwriter.Workbook(buffer, {"in_memory": True})
    book.set_properties({"title": _written(session.plan.name)[:200], "created": _MADE})
    _fill(book, "Results", _result_header(axes), [_result_row(one, axes) for one in results(session)])
    _fill(book, "Log", header(axes), [list(row(entry, axes).values()) for entry in session.log()])
    _fill(book, "About", ["what", "is"], _about(session, events))
    book.close()
    return buffer.getvalue()


def _result_header(axes: Sequence[str]) -> list[str]:
    before, after = header(tuple(axes))[: len(axes) + 2], ["target", "aim", "aim_unit", "lower", "lower_unit"]
    return [
        *before[1:],
        *after,
        "upper",
        "upper_unit",
        "reading",
        "reading_unit",
        "as_logged",
        "verdict",
        "tries",
        "measured_at_utc",
    ]


def _result_row(result: Result, axes: Sequence[str]) -> list[Plain]:
    target = result.target
    figure = result.against_limits
    return [
        result.check.name,
        *(result.item.get(axis) for axis in axes),
        None if target is None else target.derivation,
        *_pair(None if target is None else target.aim),
        *_pair(None if target is None else target.lower),
        *_pair(None if target is None else target.upper),
        *_pair(figure),
        result.text,
        result.verdict,
        result.tries,
        None if result.at is None else _second(result.at),
    ]


def _about(session: Session, events: Sequence[Event]) -> list[list[Plain]]:
    told: list[list[Plain]] = [[name, value] for name, value in session.facts.items()]
    return [
        ["plan", session.plan.name],
        ["engine", str(session.plan.engine)],
        *told,
        ["began (UTC)", _second(events[0].at) if events else None],
        ["ended (UTC)", _second(events[-1].at) if events else None],
        ["finished", session.finished],
        ["events", len(events)],
        ["hash of the last event", head(events)],
        ["digest of the plan", session.plan.digest],
        ["program", events[-1].program if events else None],
    ]


def _fill(book: Workbook, title: str, names: Sequence[str], rows: Iterable[Sequence[Plain]]) -> None:
    """Write a header that stays in sight, with filters, and rows under it."""
    sheet = book.add_worksheet(title)
    rows = list(rows)
    sheet.freeze_panes(1, 0)
    sheet.set_landscape()  # printed, its columns lie side by side under the header
    sheet.fit_to_pages(1, 0)
    sheet.repeat_rows(0)
    sheet.autofilter(0, 0, len(rows), len(names) - 1)
    for index, name in enumerate(names):
        unit = len(" thou") if name in _LENGTHS else 0
        widest = max((len(str(line[index] or "")) for line in rows[:200]), default=0)
        sheet.set_column(index, index, min(max(len(name), widest + unit) + 3, 44))
    bold = book.add_format({"bold": True})
    prefixed = book.add_format({"quote_prefix": True})
    numbers = _Numbers(book)
    for index, name in enumerate(names):
        sheet.write_string(0, index, _written(name), bold)
    units = {index: index + 1 for index, name in enumerate(names) if name in _LENGTHS}
    for number, line in enumerate(rows, 1):
        for index, value in enumerate(line):
            match value:
                case None:
                    pass
                case str():
                    text, is_risky = _text(value)
                    if is_risky:  # text, never a formula, and so after an edit
                        sheet.write_string(number, index, text, prefixed)
                    else:
                        sheet.write_string(number, index, text)
                case bool():
                    sheet.write_string(number, index, "yes" if value else "no")
                case Decimal() if index in units:
                    sheet.write_number(
                        number, index, float(value), numbers.shown(value, str(line[units[index]]))
                    )
                case _:
                    sheet.write_number(number, index, float(value))


class _Numbers:
    """Formats that show as many decimals as were said, and the unit."""

    def __init__(self, book: Workbook) -> None:
        self._book = book
        self._made: dict[str, Format] = {}

    def shown(self, value: Decimal, unit: str) -> Format:
        exponent = value.as_tuple().exponent
        places = -exponent if isinstance(exponent, int) and exponent < 0 else 0
        pattern = f'0{"." if places else ""}{"0" * places} "{unit}"'
        if pattern not in self._made:
            self._made[pattern] = self._book.add_format({"num_format": pattern})
        return self._made[pattern]


def _pair(length: Length | None) -> tuple[Decimal | None, str | None]:
    return (None, None) if length is None else (length.value, str(length.unit))


@lru_cache(maxsize=10_000)  # most cells hold what many others hold
def _text(value: str) -> tuple[str, bool]:
    """Give a text as a cell can hold it, and whether a spreadsheet could take it for a formula."""
    written = _written(value)
    return written, harmless(written) != written


def _written(text: str) -> str:
    kept = _UNWRITABLE.sub("\ufffd", text)
    return kept if len(kept) <= _LONGEST else kept[: _LONGEST - len(_CUT)] + _CUT


def _second(at: datetime) -> str:
    return at.replace(tzinfo=None).isoformat(sep=" ", timespec="seconds")
