"""What a person can mean. Keypad and voice both end here."""

from __future__ import annotations

from dataclasses import dataclass
from decimal import Decimal
from enum import StrEnum

from handsfree.length import Length
from handsfree.plan.position import Position


class Feel(StrEnum):
    """How the feeler leaf went in. No-go and go are bounds; drag is a fit, hence a value."""

    NO_GO = "no go"
    DRAG = "drag"
    GO = "go"


class Word(StrEnum):
    """Procedure words: the control vocabulary, each with the words themselves as its value.

    Source: the standard words of radiotelephony, ICAO Annex 10 volume II and Doc 9432 (from
    memory), and the bench's own for work that radio does not do.
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

    `corrects` says that it replaces the last reading; `withdrawn` is a value that the same
    breath took back ("eighteen, correction, nineteen"), kept for the log. `repeats` is a value said
    once more ("I said eighteen"): it replaces the last reading only where that was this one, misheard.
    """

    value: Length
    position: Position | None = None
    feel: Feel | None = None
    corrects: bool = False
    withdrawn: Length | None = None
    repeats: bool = False


@dataclass(frozen=True, slots=True)
class Vague:
    """A size that isn't one ("a hair over eighteen"): it is asked about and never logged."""


@dataclass(frozen=True, slots=True)
class Bracket:
    """Two leaves in one breath: `goes` enters and `stops` doesn't, so the gap lies between them."""

    goes: Length
    stops: Length
    position: Position | None = None


@dataclass(frozen=True, slots=True)
class Move:
    """Go to a position (whole or partial) without measuring."""

    position: Position


@dataclass(frozen=True, slots=True)
class Sweep:
    """Go on with all positions that have these labels, or (`leaving`) with those that don't."""

    position: Position
    leaving: bool = False


@dataclass(frozen=True, slots=True)
class Recall:
    """What was logged at a position?"""

    position: Position


@dataclass(frozen=True, slots=True)
class ChangeCheck:
    """Go to another check of the plan, by the name that the plan gives it."""

    check: str


@dataclass(frozen=True, slots=True)
class Turns:
    """The filer was turned this often since the last reading."""

    count: Decimal


@dataclass(frozen=True, slots=True)
class Control:
    """A procedure word on its own."""

    word: Word


Command = Reading | Vague | Bracket | Move | Sweep | Recall | ChangeCheck | Turns | Control


def kind_of(command: Command) -> str:
    """Name a command as logs and JSON name it: the procedure word itself, or what sort it is.

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
