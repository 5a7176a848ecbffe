"""The commands that a user can give, by keypad or by voice."""

from __future__ import annotations

from dataclasses import dataclass
from decimal import Decimal
from enum import StrEnum

from handsfree.length import Length
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
