"""A session as CSV with one row for each position: current reading, target, and who measured it."""

from __future__ import annotations

import csv
import io
from collections.abc import Iterable, Mapping
from decimal import Decimal

from handsfree.export.csv_json import axes_of, csv_cell, harmless, header, local_text
from handsfree.journal import Cell, Event, utc_text
from handsfree.length import Length
from handsfree.plan import Position
from handsfree.session import Entry, Result, Session, results

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
