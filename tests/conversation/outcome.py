"""What came of an utterance, in the words of the lists of this folder, and how good that is."""

from __future__ import annotations

import re
import tomllib
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from enum import StrEnum
from pathlib import Path
from typing import Any

from handsfree.bench import Bench, Exchange
from handsfree.hear import Hearing
from handsfree.journal import Event, Kind
from handsfree.length import Unit, plain
from handsfree.plan import Position
from handsfree.session import Session
from handsfree.speak import SILENCE
from handsfree.understand import Letters, Listening, Move, Reading, Recall, command_from
from handsfree.understand.command import kind_of

HERE = Path(__file__).parent
NOT_DONE = "nothing"

# The answer to a command that stores nothing, by the command's own name.
_TOLD = {
    "say again": "tell again",
    "read back": "tell last",
    "confirm": "tell last",
    "what's left": "tell left",
    "what's next": "tell next",
    "target": "tell target",
    "how much more": "tell to go",
    "where are we": "tell where",
    "help": "tell help",
    "vague": "ask",
    "disregard": "tell nothing asked",
}
_VOICE = frozenset({"louder", "quieter", "faster", "slower"})
_PLAIN = {
    Kind.STAND_BY: "stand by",
    Kind.GO_AHEAD: "go ahead",
    Kind.FINISHED: "finished",
    Kind.DRESSED: "dressed",
    Kind.TURNS: "turns",
}


class Grade(StrEnum):
    """How good an outcome is."""

    RIGHT = "right"
    QUESTION = "question"  # a plausible one: what was said is among what is offered, or it is asked for
    HINT = "hint"
    OTHER = "other answer"  # something else was told; nothing was stored
    SILENCE = "silence"
    ABSURD = "absurd question"
    WRONG = "wrong action"


@dataclass(frozen=True)
class Utterance:
    """One line of a list.

    should: outcomes that are right, each as good as the others.
    """

    scene: str
    before: tuple[str, ...]
    text: str
    should: tuple[str, ...]
    source: str

    @property
    def words(self) -> tuple[str, ...]:
        """Its words as the grammar spells them."""
        return spelt(self.text)

    @property
    def is_meant(self) -> bool:
        """Whether it is meant for the bench."""
        return NOT_DONE not in self.should


def utterances() -> Iterator[Utterance]:
    """Read the lists of this folder."""
    for path in sorted(HERE.glob("*.toml")):
        for scene in tomllib.loads(path.read_text("utf-8"))["scene"]:
            for text, should in scene["says"]:
                yield Utterance(
                    scene["name"], tuple(scene["before"]), text, tuple(should.split(" / ")), path.name
                )


def spelt(text: str) -> tuple[str, ...]:
    """Return the words of a sentence without its signs.

    >>> spelt("I've got sixteen, no, seventeen.")
    ("i've", 'got', 'sixteen', 'no', 'seventeen')
    """
    return tuple(re.sub(r"[^a-z' ]+", " ", text.lower()).split())


def said(bench: Bench, listening: Listening, words: Sequence[str], text: str) -> Exchange:
    """Take words as a recogniser that heard every letter would give them."""
    known = listening.automaton.accepts(words)
    # else as the embedded recogniser may write it: "now" for "thou"
    written = () if known else Letters(listening.automaton).words(text.lower())
    heard = tuple(words) if known else next(iter(written), ())
    known = bool(heard)
    sure: dict[str, Any] = {"fit": -0.02, "margin": 9.0} if known else {"fit": None, "margin": None}
    hearing = Hearing(heard, 0.0, 1.0, "test", free=text, **sure)
    return bench.heard(hearing, bench.weigh(hearing))


def happened(before: Session, exchanges: Sequence[Exchange]) -> str:
    """Name what came of it: what the journal took, else what was answered."""
    events = [event for exchange in exchanges for event in exchange.events]
    found = [name for name in (_event(before, event, events) for event in events) if name]
    if found:
        return " + ".join(dict.fromkeys(found))
    last = next((one for one in reversed(exchanges) if one.reply is not SILENCE), None)
    if last is None:
        return NOT_DONE
    if last.reply.text.startswith(("There is no ", "No such")):
        return "tell no place"
    commands = last.commands
    if last.reply.text.startswith("Say") and not commands:
        return "hint"
    if last.decision is not None and last.decision.outcome.value == "ask":
        return "again"
    if commands:
        kind = kind_of(commands[0])
        if last.reply.text == "Nothing was asked.":
            return "tell nothing asked"
        if isinstance(commands[0], Recall):
            return f"tell was {_place(commands[0].position.within(before.position))}"
        return _TOLD.get(kind) or (kind if kind in _VOICE else f"tell {kind}")
    return "again"


def _event(before: Session, event: Event, events: Sequence[Event]) -> str | None:
    draft = event.draft
    match event.kind:
        case Kind.READING | Kind.CORRECTION:
            verb = "log" if event.kind is Kind.READING else "correct"
            return f"{verb} {_place(draft.position)} {_amount(draft.bound, draft.value, draft.other)}"
        case Kind.VOID if draft.note and draft.note.startswith("new ring"):
            return None
        case Kind.VOID:
            entry = before.find(draft.refers_to or "")
            return "keep" if entry is None else f"void {_place(entry.position)}"
        case Kind.MOVE if draft.note and draft.note.startswith("new ring"):
            return f"anew {_place(draft.position)}"
        case Kind.MOVE:
            anew = any((each.draft.note or "").startswith("new ring") for each in events)
            return f"move {_place(draft.position)}" if draft.heard is not None and not anew else None
        case Kind.CHECK:
            return f"check {draft.check}"
        case Kind.ASKED:
            return _asked(before, draft.data)
        case kind:
            return _PLAIN.get(kind)


def _asked(before: Session, data: Mapping[str, object]) -> str:
    about = data.get("about")
    if about == "finish":
        return "finish?"
    if about == "again":
        return "again"
    forms = data.get("candidates", [])
    assert isinstance(forms, list)
    offered = [_form(before, form) for form in forms]
    return f"ask {' | '.join(offered)}" if offered else f"ask {about}"


def _form(before: Session, form: Mapping[str, Any]) -> str:
    command = command_from(form)
    if isinstance(command, Reading):
        place = before.position if command.position is None else command.position.within(before.position)
        entry = before.last_entry
        if command.corrects and entry is not None:
            return f"correct {_place(entry.position)} {_amount(None, command.value, None)}"
        bound = {"no go": "under", "go": "over"}.get(command.feel.value if command.feel else "")
        return f"log {_place(place)} {_amount(bound, command.value, None)}"
    if isinstance(command, Move):
        return f"move {_place(command.position.within(before.position))}"
    if isinstance(command, Recall):
        return f"tell was {_place(command.position.within(before.position))}"
    kind = kind_of(command)
    return _TOLD.get(kind, kind)


def _place(position: Position | None) -> str:
    return " ".join(label for _, label in position.labels) if position else "?"


def _amount(bound: str | None, value: Any, other: Any) -> str:
    unit = "" if value.unit is Unit.THOU else f" {value.unit.value}"
    if other is not None:
        return f"{plain(value.value)} to {plain(other.value)}{unit}"
    return f"{bound} {plain(value.value)}{unit}" if bound else f"{plain(value.value)}{unit}"


# What a command that was asked about would come to, where its name doesn't tell.
_EFFECTS = {
    "new ring": ("anew",),
    "disregard": ("void", "keep"),
    "negative": ("void", "keep"),
    "tell nothing asked": ("void", "keep"),
    "next": ("move",),
    "previous": ("move",),
    "sweep": ("move",),
    "finish": ("finish?",),
}


def _comes_to(offered: str, should: Sequence[str]) -> bool:
    """Whether a command that was asked about is the one that was meant."""
    if {offered, f"ask {offered}"} & set(should):
        return True
    return any(one.startswith(_EFFECTS.get(offered, ("\0",))) for one in should)


def grade(should: Sequence[str], came: str) -> Grade:
    """Grade what came of an utterance.

    >>> grade(("log 2 top 15",), "ask log 2 top 15 | log 2 top 50").value
    'question'
    """
    if came in should or ("ask" in should and came.startswith(("ask", "again"))):
        return Grade.RIGHT
    if came == NOT_DONE:
        return Grade.SILENCE
    meant = NOT_DONE not in should
    if came == "hint":
        return Grade.HINT if meant else Grade.ABSURD
    if came == "again":
        return Grade.QUESTION if meant else Grade.ABSURD
    if came.startswith("ask "):
        offered = came.removeprefix("ask ").split(" | ")
        return Grade.QUESTION if meant and any(_comes_to(one, should) for one in offered) else Grade.ABSURD
    if came.startswith("tell") or came in ("ask", "keep", "finish?"):
        return Grade.OTHER
    return Grade.WRONG
