"""Commands as plain JSON-ready objects and back: for `hear --json` and for questions in the journal."""

from __future__ import annotations

from collections.abc import Mapping
from decimal import Decimal
from typing import Any

from handsfree.length import Length, Unit, plain
from handsfree.plan import Position
from handsfree.understand.command import (
    Bracket,
    ChangeCheck,
    Command,
    Control,
    Feel,
    Move,
    Reading,
    Recall,
    Sweep,
    Turns,
    Vague,
    Word,
    kind_of,
)


def command_json(command: Command) -> dict[str, Any]:
    """Return a command as an object; values are decimal strings in normal form.

    Readings always have cylinder and ring, None if not said; other axes are added under their names.

    >>> from handsfree.length import length
    >>> command_json(Reading(length("18.50")))["value"]
    '18.5'
    """
    form: dict[str, Any] = {"kind": kind_of(command)}
    match command:
        case Reading(value, position, feel, _, withdrawn, repeats):
            form |= _place(position) | {"value": plain(value.value), "unit": value.unit.value}
            form["feel"] = feel.value if feel else None
            if withdrawn is not None:
                form["withdrawn"] = {"value": plain(withdrawn.value), "unit": withdrawn.unit.value}
            if repeats:
                form["repeats"] = True
        case Bracket(goes, stops, position):
            form |= _place(position)
            form |= {"goes": plain(goes.value), "stops": plain(stops.value)}
            form |= {"unit": goes.unit.value, "stops_unit": stops.unit.value}
        case Move(position) | Recall(position):
            form |= dict(position.labels)
        case Sweep(position, leaving):
            form |= dict(position.labels) | {"leaving": leaving}
        case ChangeCheck(check):
            form["check"] = check
        case Turns(count):
            form["count"] = plain(count)
        case Control() | Vague():
            pass
    return form


def command_from(form: Mapping[str, Any]) -> Command:
    """Read back what `command_json` wrote.

    Raises:
        KeyError, ValueError: for any other object.
    """
    kind = form["kind"]
    if kind in ("reading", "correction"):
        if "value" not in form:
            return Control(Word.CORRECTION)
        withdrawn = form.get("withdrawn")
        return Reading(
            _length(form["value"], form["unit"]),
            _position(form),
            Feel(form["feel"]) if form.get("feel") else None,
            kind == "correction",
            _length(withdrawn["value"], withdrawn["unit"]) if withdrawn else None,
            bool(form.get("repeats", False)),
        )
    if kind == "bracket":
        return Bracket(
            _length(form["goes"], form["unit"]), _length(form["stops"], form["stops_unit"]), _position(form)
        )
    if kind == "move":
        return Move(_position(form) or Position(()))
    if kind == "sweep":
        return Sweep(_position(form) or Position(()), bool(form["leaving"]))
    if kind == "recall":
        return Recall(_position(form) or Position(()))
    if kind == "vague":
        return Vague()
    if kind == "check":
        return ChangeCheck(form["check"])
    if kind == "turns":
        return Turns(Decimal(form["count"]))
    return Control(Word(kind))


_NOT_AXES = frozenset(
    {
        *("kind", "value", "unit", "feel", "withdrawn", "repeats", "goes", "stops", "stops_unit", "leaving"),
    }
)


def _place(position: Position | None) -> dict[str, str | None]:
    labels: dict[str, str | None] = dict(position.labels if position else ())
    return labels | {axis: None for axis in ("cylinder", "ring") if axis not in labels}


def _position(form: Mapping[str, Any]) -> Position | None:
    labels = {axis: label for axis, label in form.items() if axis not in _NOT_AXES and label is not None}
    return Position.of(labels) if labels else None


def _length(value: str, unit: str) -> Length:
    return Length(Decimal(value), Unit(unit))
