"""An event as flat columns, for storing, hashing and exporting.

Every value is text, a whole number, a float (only `fit` and `margin`) or None. A decimal is kept as text,
as it was entered: 18.50 does not become 18.5.

The hash chain of events: none can be altered, removed or moved undetected.

The hash of an event is SHA-256 over the hash before it (64 hexadecimal digits, zeros for the first
event), a line feed, and the event's canonical form: a JSON object of its non-empty columns, with every
float written as text. With only text and whole numbers in it, this is also the form of RFC 8785 (JSON
Canonicalization Scheme), so any language can compute it.

The chain proves that nothing before a known hash was changed. A person who can write the file can still
make a whole new chain: so the build sheet and the shop's database keep the last hash elsewhere.
"""

from __future__ import annotations

import hashlib
import json
import math
from collections.abc import Iterable, Mapping
from datetime import UTC, datetime

from handsfree.errors import JournalError
from handsfree.journal.cells import (
    Cell,
    bound_of,
    data_of,
    decimal,
    labels_of,
    number_of,
    offset_of,
    one_of,
    optional_number,
    optional_text,
    shown,
    text,
    time_of,
    verdict_of,
)
from handsfree.journal.event import Draft, Event, Heard, Kind
from handsfree.length import Length, Unit
from handsfree.plan import Position

Columns = dict[str, Cell]

COLUMNS = (
    "seq",
    "id",
    "kind",
    "at",
    "offset_minutes",
    "program",
    "check_name",
    "position",
    "labels",
    "value",
    "unit",
    "bound",
    "other",
    "other_unit",
    "feel",
    "refers_to",
    "verdict",
    "remaining",
    "remaining_unit",
    "source",
    "words",
    "recogniser",
    "fit",
    "margin",
    "runner_up",
    "origin",
    "sound",
    "note",
    "data",
)


def columns(event: Event) -> Columns:
    """Return an event's columns, in the order of `COLUMNS`.

    Odd values are converted rather than refused, because an event must never be dropped: NUL and text that
    isn't Unicode become escapes, and a fit or margin that isn't finite becomes None.

    Raises:
        JournalError: a length is not a finite number.
    """
    draft = event.draft
    heard = draft.heard
    value, unit = _length_cells(draft.value)
    other, other_unit = _length_cells(draft.other)
    remaining, remaining_unit = _length_cells(draft.remaining)
    labels = None if draft.position is None else _json(_plain(draft.position.labels))
    cells: tuple[Cell, ...] = (
        event.seq,
        event.id,
        event.kind.value,
        utc_text(event.at),
        event.offset_minutes,
        event.program,
        storable(draft.check),
        None if draft.position is None else storable(draft.position.key),
        storable(labels),
        value,
        unit,
        None if draft.bound is None else str(draft.bound),
        other,
        other_unit,
        storable(draft.feel),
        storable(draft.refers_to),
        storable(draft.verdict),
        remaining,
        remaining_unit,
        None if heard is None else storable(heard.source),
        None if heard is None else storable(heard.words),
        None if heard is None else storable(heard.recogniser),
        None if heard is None else _number(heard.fit),
        None if heard is None else _number(heard.margin),
        None if heard is None else storable(heard.runner_up),
        None if heard is None else storable(heard.origin),
        None if heard is None else storable(heard.sound),
        storable(draft.note),
        storable(_json(_plain(draft.data))) if draft.data else None,
    )
    return dict(zip(COLUMNS, cells, strict=True))


def event_of(cells: Mapping[str, Cell]) -> Event:
    """Return the event that these columns hold.

    Raises:
        JournalError: a column holds a value that no version of this program writes.
    """
    try:
        return Event(
            id=text("id", cells["id"]),
            seq=number_of(cells["seq"]),
            at=time_of(cells["at"]),
            offset_minutes=offset_of(cells["offset_minutes"]),
            program=text("program", cells["program"]),
            draft=_draft_of(cells),
        )
    except (ValueError, TypeError, KeyError) as fault:
        raise JournalError(
            f"Event {shown(cells.get('seq'))} of the journal can't be read ({fault}): it was altered, or "
            "written by a newer handsfree; run `handsfree journal verify` on it."
        ) from fault


def _draft_of(cells: Mapping[str, Cell]) -> Draft:
    def optional(name: str) -> str | None:
        return optional_text(name, cells[name])

    heard = None
    if cells["source"] is not None:
        heard = Heard(
            source=text("source", cells["source"]),
            words=optional("words") or "",
            recogniser=optional("recogniser"),
            fit=optional_number("fit", cells["fit"]),
            margin=optional_number("margin", cells["margin"]),
            runner_up=optional("runner_up"),
            origin=optional("origin"),
            sound=optional("sound"),
        )
    kind = one_of("kind", cells["kind"], Kind)
    labels = labels_of(cells["labels"])
    data = data_of(cells["data"])
    if kind is Kind.TURNS:
        decimal("count", data.get("count", 0))
    return Draft(
        kind=kind,
        check=optional("check_name"),
        position=None if labels is None else Position(labels),
        value=_length_of("value", cells["value"], cells["unit"]),
        bound=bound_of(cells["bound"]),
        other=_length_of("other", cells["other"], cells["other_unit"]),
        feel=optional("feel"),
        refers_to=optional("refers_to"),
        verdict=verdict_of(cells["verdict"]),
        remaining=_length_of("remaining", cells["remaining"], cells["remaining_unit"]),
        heard=heard,
        note=optional("note"),
        data=data,
    )


def utc_text(at: datetime) -> str:
    """Return an aware time as text in UTC, ISO 8601, to the microsecond.

    >>> utc_text(datetime(2026, 11, 25, 9, 30, tzinfo=UTC))
    '2026-11-25T09:30:00.000000Z'
    """
    return at.astimezone(UTC).replace(tzinfo=None).isoformat(timespec="microseconds") + "Z"


def _length_cells(length: Length | None) -> tuple[str | None, str | None]:
    if length is None:
        return None, None
    if not length.value.is_finite():
        raise JournalError(
            f"A measurement of {length.value} {length.unit} can't be logged: it isn't a number."
        )
    return str(length.value), str(length.unit)


def _length_of(name: str, value: Cell, unit: Cell) -> Length | None:
    return None if value is None else Length(decimal(name, value), one_of("unit", unit, Unit))


def storable(words: str | None) -> str | None:
    """Return text that any database and UTF-8 file can hold: NUL and lone surrogates become escapes."""
    if words is None:
        return None
    if "\0" in words:  # of all databases only SQLite can hold it
        words = words.replace("\0", "\\x00")
    if words.isascii():
        return words
    return words.encode("utf-8", "backslashreplace").decode("utf-8")  # lone surrogates: names of odd files


def _number(number: float | None) -> float | None:
    if number is None or not math.isfinite(number):
        return None
    return float(number) + 0.0  # minus zero becomes zero: SQLite does the same, and the hash must agree


def _json(value: object) -> str:
    return json.dumps(value, ensure_ascii=False, sort_keys=True, separators=(",", ":"))


def _plain(value: object) -> object:
    """Convert a value to one that JSON can hold, so that it reads back unchanged."""
    match value:
        case None | bool() | int():
            return value
        case str():
            return storable(value)
        case float():
            return value if math.isfinite(value) else None
        case Mapping():
            return {storable(str(key)): _plain(item) for key, item in value.items()}
        case list() | tuple() | set() | frozenset():
            return [_plain(item) for item in value]
        case _:
            return str(value)  # a Decimal, a date: as it is written


START = "0" * 64


def canonical(cells: Mapping[str, Cell]) -> bytes:
    """Return an event's columns as canonical JSON, UTF-8.

    Empty columns are left out, so that a column added by a later version doesn't change today's hashes.
    """
    kept = {
        name: repr(cell) if isinstance(cell, float) else cell
        for name, cell in cells.items()
        if cell is not None
    }
    return json.dumps(kept, ensure_ascii=False, sort_keys=True, separators=(",", ":")).encode()


def link(previous: str, cells: Mapping[str, Cell]) -> str:
    """Return the hash of an event, given its columns and the hash `previous` of the event before it."""
    return hashlib.sha256(previous.encode() + b"\n" + canonical(cells)).hexdigest()


def head(events: Iterable[Event]) -> str:
    """Return the hash of the last of these events, counted from the journal's start."""
    last = START
    for event in events:
        last = link(last, columns(event))
    return last
