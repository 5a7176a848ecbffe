"""What a person can mean. Keypad and voice both end here.

Commands as plain JSON-ready objects and back: for `hear --json` and for questions in the journal.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from decimal import Decimal
from enum import StrEnum
from typing import Any

from handsfree.length import Length, Unit, plain
from handsfree.plan import Position


class Feel(StrEnum):
    """The feel of a feeler leaf. No-go and go are bounds; drag is a fit, hence a value."""

    NO_GO = "no go"
    DRAG = "drag"
    GO = "go"


class Word(StrEnum):
    """Procedure words: the control vocabulary, each with the words themselves as its value.

    Source of the words up to `ROGER`: the standard words of radiotelephony, ICAO Annex 10 volume II and
    Doc 9432 (from memory). Words from `NEXT` on are the bench's own, for work outside radio.
    """

    SAY_AGAIN = "say again"
    AFFIRM = "affirm"
    NEGATIVE = "negative"
    DISREGARD = "disregard"
    CORRECTION = "correction"
    STAND_BY = "stand by"
    GO_AHEAD = "go ahead"
    READ_BACK = "read back"
    CONFIRM = "confirm"
    ROGER = "roger"
    NEXT = "next"
    PREVIOUS = "previous"
    WHATS_LEFT = "what's left"
    WHATS_NEXT = "what's next"
    TARGET = "target"
    HOW_MUCH = "how much more"
    WHERE = "where are we"
    HELP = "help"
    LOUDER = "louder"
    QUIETER = "quieter"
    FASTER = "faster"
    SLOWER = "slower"
    NEW_RING = "new ring"
    DRESSED = "wheel dressed"
    DONE = "done"
    NOT_DONE = "not done"
    FINISH = "finish"


@dataclass(frozen=True, slots=True)
class Reading:
    """A measured value, at `position` or (None) at the position in hand.

    `corrects`: it replaces the last reading. `withdrawn`: a value that the same utterance took back
    ("eighteen, correction, nineteen"), kept for the log. `repeats`: a value said once more ("I said
    eighteen"); it replaces the last reading only if that was the same value misheard.
    """

    value: Length
    position: Position | None = None
    feel: Feel | None = None
    corrects: bool = False
    withdrawn: Length | None = None
    repeats: bool = False


@dataclass(frozen=True, slots=True)
class Vague:
    """A vague size ("a hair over eighteen"): it is asked about and never logged."""


@dataclass(frozen=True, slots=True)
class Bracket:
    """Two leaves in one utterance: `goes` enters and `stops` doesn't, so the gap lies between them."""

    goes: Length
    stops: Length
    position: Position | None = None


@dataclass(frozen=True, slots=True)
class Move:
    """Go to a position (whole or partial) without measuring."""

    position: Position


@dataclass(frozen=True, slots=True)
class Sweep:
    """Continue with all positions that have these labels, or (`leaving`) with the others."""

    position: Position
    leaving: bool = False


@dataclass(frozen=True, slots=True)
class Recall:
    """Ask for the logged reading of a position."""

    position: Position


@dataclass(frozen=True, slots=True)
class ChangeCheck:
    """Go to another check, as the plan names it."""

    check: str


@dataclass(frozen=True, slots=True)
class Turns:
    """Turns of the filer since the last reading."""

    count: Decimal


@dataclass(frozen=True, slots=True)
class Control:
    """A procedure word on its own."""

    word: Word


Command = Reading | Vague | Bracket | Move | Sweep | Recall | ChangeCheck | Turns | Control


def kind_of(command: Command) -> str:
    """Return a command's name in logs and JSON: the procedure word itself, or the kind of command.

    >>> kind_of(Control(Word.SAY_AGAIN))
    'say again'
    """
    match command:
        case Control(word):
            return word.value
        case Reading(corrects=True):
            return "correction"
        case Reading():
            return "reading"
        case Vague():
            return "vague"
        case Bracket():
            return "bracket"
        case Move():
            return "move"
        case Sweep():
            return "sweep"
        case Recall():
            return "recall"
        case ChangeCheck():
            return "check"
        case Turns():
            return "turns"


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
