"""A session as CSV and JSON. The same journal always produces the same bytes.

Source: RFC 4180 for the CSV (comma, CRLF, doubled quotes, one header line).

A session as CSV with one row for each position: current reading, target, and who measured it.
"""

from __future__ import annotations

import csv
import io
import json
from collections.abc import Iterable, Iterator, Mapping
from decimal import Decimal

from handsfree.errors import JournalError
from handsfree.journal import COLUMNS, Cell, Event, columns, event_of, head, storable, utc_text
from handsfree.length import Length
from handsfree.plan import Position
from handsfree.session import Entry, Result, Session, results

FORMAT = "handsfree session"
FORM_VERSION = 1

_FORMULA_STARTS = ("=", "+", "-", "@", "\uff1d", "\uff0b", "\uff0d", "\uff20")  # with full-width forms


def to_csv(session: Session) -> bytes:
    """Return every entry of a session, voided and corrected ones too, as CSV in UTF-8.

    Text that a spreadsheet would take for a formula gets an apostrophe in front. A negative measurement
    doesn't need one: its column holds only decimals.
    """
    axes = axes_of(session)
    text = io.StringIO(newline="")
    writer = csv.writer(text, lineterminator="\r\n")
    writer.writerow([harmless(name) for name in header(axes)])
    for entry in session.log():
        writer.writerow([csv_cell(value) for value in row(entry, axes).values()])
    return text.getvalue().encode()


def to_json(session: Session, events: Iterable[Event]) -> bytes:
    """Return a session and the events that it was folded from as JSON in UTF-8.

    Every measurement is a string with its decimal as entered. The session can be rebuilt from the events,
    see `from_json`.
    """
    events = list(events)
    plan = session.plan
    document = {
        "form": FORMAT,
        "version": FORM_VERSION,
        "plan": {
            "name": storable(plan.name),
            "engine": storable(str(plan.engine)),
            "digest": plan.digest,
            "text": plan.text,
        },
        "finished": session.finished,
        "hash": head(events),
        "entries": [_entry(entry) for entry in session.log()],
        "events": [_event(event) for event in events],
    }
    return (",\n".join(_members(document)).join(("{\n", "\n}\n"))).encode()


def from_json(document: bytes) -> list[Event]:
    """Return the events of a document written by `to_json`.

    Raises:
        JournalError: the document is of another kind, from a newer version, or altered.
    """
    try:
        held = json.loads(document)
        file_format, version = held["form"], held["version"]
    except (ValueError, KeyError, TypeError, RecursionError) as fault:
        raise JournalError(
            "This is not a session that handsfree exported as JSON; name another file."
        ) from fault
    if file_format != FORMAT or not isinstance(version, int) or version < 1:
        raise JournalError("This is not a session that handsfree exported as JSON; name another file.")
    if version > FORM_VERSION:
        raise JournalError(
            f"This session was exported by a newer handsfree (form {version}, this one reads up to "
            f"{FORM_VERSION}); update handsfree to read it."
        )
    try:
        events = [event_of(_cells(item)) for item in held["events"]]
        whole = head(events) == held["hash"]
    except (KeyError, TypeError, AttributeError) as fault:
        raise JournalError("This exported session is incomplete; export it again.") from fault
    if not whole:
        raise JournalError(
            "This exported session was altered: its events don't give its hash; export it again."
        )
    return events


def axes_of(session: Session) -> tuple[str, ...]:
    """Return the axes of all positions, in the order of the plan, then of the log."""
    planned = [
        axis for check in session.plan.checks for position in check.positions for axis, _ in position.labels
    ]
    logged = [axis for _, position in session.entries for axis, _ in position.labels]
    return tuple(dict.fromkeys(planned + logged))


def header(axes: tuple[str, ...]) -> list[str]:
    """Return the names of the columns of `row`, in order."""
    before = ["number", "check"]
    after = [
        "value",
        "unit",
        "bound",
        "other",
        "other_unit",
        "feel",
        "done",
        "state",
        "changed_by",
        "verdict",
        "remaining",
        "remaining_unit",
        "heard",
        "fit",
        "margin",
        "runner_up",
        "recogniser",
        "source",
        "sound",
        "note",
        "at_utc",
        "at_local",
        "id",
        "refers_to",
    ]
    taken = {*before, *after}
    return [*before, *(f"position_{axis}" if axis in taken else axis for axis in axes), *after]


def row(entry: Entry, axes: tuple[str, ...]) -> dict[str, Cell | Decimal | bool]:
    """Return one entry as values by column: measurements as exact decimals, None where empty."""
    draft = entry.event.draft
    heard = draft.heard
    values: list[Cell | Decimal | bool] = [
        entry.event.seq,
        entry.check,
        *(entry.position.get(axis) for axis in axes),
        None if draft.value is None else draft.value.value,
        None if draft.value is None else str(draft.value.unit),
        draft.bound,
        None if draft.other is None else draft.other.value,
        None if draft.other is None else str(draft.other.unit),
        draft.feel,
        entry.done,
        entry.state.value,
        entry.by,
        draft.verdict,
        None if draft.remaining is None else draft.remaining.value,
        None if draft.remaining is None else str(draft.remaining.unit),
        None if heard is None else heard.words,
        None if heard is None else heard.fit,
        None if heard is None else heard.margin,
        None if heard is None else heard.runner_up,
        None if heard is None else heard.recogniser,
        None if heard is None else heard.source,
        None if heard is None else heard.sound,
        draft.note,
        utc_text(entry.event.at),
        local_text(entry.event),
        entry.event.id,
        draft.refers_to,
    ]
    return dict(zip(header(axes), values, strict=True))


def local_text(event: Event) -> str:
    """Return an event's local time with its offset, ISO 8601 to the second."""
    return event.local.isoformat(timespec="seconds")


def harmless(text: str) -> str:
    """Return a text in a form that no spreadsheet takes for a formula.

    >>> harmless("=1+1"), harmless("eighteen")
    ("'=1+1", 'eighteen')
    """
    return f"'{text}" if text.lstrip().startswith(_FORMULA_STARTS) else text


def _members(document: dict[str, object]) -> Iterator[str]:
    """Yield each member of a JSON object as text, with every item of a list on its own line."""
    dumps = json.JSONEncoder(ensure_ascii=False).encode
    for name, value in document.items():
        if isinstance(value, list) and value:
            yield f"{dumps(name)}: [\n " + ",\n ".join(dumps(item) for item in value) + "\n]"
        else:
            yield f"{dumps(name)}: {dumps(value)}"


def csv_cell(value: Cell | Decimal | bool) -> str:
    """Return a value as a cell of a CSV file."""
    match value:
        case None:
            return ""
        case bool():
            return "yes" if value else "no"
        case Decimal():
            return format(value, "f")
        case float() | int():
            return repr(value)
        case _:
            return harmless(value)


def _entry(entry: Entry) -> dict[str, object]:
    """Return an entry for JSON: the position as an object, decimals as strings, without empty values."""
    values: dict[str, object] = {}
    for name, value in row(entry, ()).items():
        if name == "check":
            values[name] = value
            values["position"] = dict(entry.position.labels)
        elif isinstance(value, Decimal):
            values[name] = format(value, "f")
        elif value is not None:
            values[name] = value
    return values


def _event(event: Event) -> dict[str, object]:
    """Return an event's columns for JSON: labels and data as objects, without empty values."""
    cells: dict[str, object] = {name: cell for name, cell in columns(event).items() if cell is not None}
    for name in ("labels", "data"):
        if name in cells:
            cells[name] = json.loads(str(cells[name]))
    return cells


def _cells(item: dict[str, object]) -> dict[str, Cell]:
    cells: dict[str, Cell] = dict.fromkeys(COLUMNS)
    for name, value in item.items():
        if name in ("labels", "data"):
            cells[name] = json.dumps(value, ensure_ascii=False)
        elif isinstance(value, str | int | float) and name in cells:
            cells[name] = value
    return cells


_AFTER = (
    *("value", "unit", "bound", "other", "other_unit", "done", "verdict", "remaining", "remaining_unit"),
    *("lower", "lower_unit", "aim", "aim_unit", "upper", "upper_unit", "target", "tries", "who"),
    *("at_utc", "at_local", "number"),
)


def positions_to_csv(session: Session, events: Iterable[Event]) -> bytes:
    """Return CSV with the current reading of every position of the plan, measured or not, in work order.

    Args:
        session: the session to write.
        events: the events that it was folded from; they name the people at the bench.
    """
    axes = axes_of(session)
    who = _who(events)
    text = io.StringIO(newline="")
    writer = csv.writer(text, lineterminator="\r\n")
    named = header(axes)[1 : len(axes) + 2]
    writer.writerow([harmless(name) for name in (*named, *_AFTER)])
    for result in results(session):
        for position, entry in result.entries:
            tries = len(session.standing(result.check.name, position))
            cells = [*_where(result, position, axes), *_reading(entry), *_limits(result)]
            writer.writerow(map(csv_cell, [*cells, tries, *_came(entry, who)]))
    return text.getvalue().encode()


def _where(result: Result, position: Position, axes: tuple[str, ...]) -> list[str | None]:
    return [result.check.name, *(position.get(axis) for axis in axes)]


def _reading(entry: Entry | None) -> list[Cell | Decimal | bool]:
    if entry is None:
        return [None] * 9
    draft = entry.event.draft
    value, other, remaining = _pair(draft.value), _pair(draft.other), _pair(draft.remaining)
    return [*value, draft.bound, *other, entry.done, draft.verdict, *remaining]


def _limits(result: Result) -> list[Cell | Decimal]:
    target = result.target
    if target is None:
        return [None] * 7
    return [*_pair(target.lower), *_pair(target.aim), *_pair(target.upper), target.derivation]


def _came(entry: Entry | None, who: Mapping[str, str]) -> list[Cell]:
    if entry is None:
        return [None] * 4
    event = entry.event
    return [who.get(event.id), utc_text(event.at), local_text(event), event.seq]


def _who(events: Iterable[Event]) -> dict[str, str]:
    """Return the name of the person at the bench by event id: from the last opening or resumption."""
    found: dict[str, str] = {}
    now = None
    for event in events:
        now = event.draft.data.get("who") or now
        if now is not None:
            found[event.id] = str(now)
    return found


def _pair(length: Length | None) -> tuple[Decimal | None, str | None]:
    return (None, None) if length is None else (length.value, str(length.unit))
