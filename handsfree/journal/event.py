"""One row of the journal: the only thing that is ever stored."""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import datetime, timedelta, timezone
from enum import StrEnum

from handsfree.length import Length
from handsfree.plan import Position


class Kind(StrEnum):
    """What happened. A reading is never changed: a correction or a void points back at it."""

    OPENED = "opened"
    PLAN = "plan"
    RESUMED = "resumed"
    READING = "reading"
    CORRECTION = "correction"
    VOID = "void"
    MOVE = "move"
    CHECK = "check"
    TICK = "tick"
    TURNS = "turns"
    DRESSED = "dressed"
    STAND_BY = "stand by"
    GO_AHEAD = "go ahead"
    ASKED = "asked"
    FINISHED = "finished"


@dataclass(frozen=True, slots=True)
class Heard:
    """How an event came in.

    source: "voice" or "keypad". words: what was said, or the keys pressed. The numbers are those
    of `handsfree.hear.Hearing`. `sound` names the stored recording, where sound is kept.
    """

    source: str
    words: str
    recogniser: str | None = None
    fit: float | None = None
    margin: float | None = None
    runner_up: str | None = None
    origin: str | None = None
    sound: str | None = None


@dataclass(frozen=True, slots=True)
class Draft:
    """An event before the journal gives it its number, identity and time.

    value: what was measured, as it was said. For `bound` "under" or "over" the gap lies below or
    above it (no-go and go leaves); with `other` as well it lies between the two.
    refers_to: id of the event that a correction replaces or a void withdraws.
    verdict: the state that `judge` gave when it was logged, kept as a fact of that time.
    data: whatever else the kind needs, JSON-ready: "plan", "plan_name", "plan_digest" and who and
        with what for "opened" (`handsfree.session.opening` makes it), those of the plan, "changes" and
        "verdicts" for "plan", "count" for "turns" (a decimal as text), "done" (true or false) for
        "tick", candidates for "asked".
    """

    kind: Kind
    check: str | None = None
    position: Position | None = None
    value: Length | None = None
    bound: str | None = None
    other: Length | None = None
    feel: str | None = None
    refers_to: str | None = None
    verdict: str | None = None
    remaining: Length | None = None
    heard: Heard | None = None
    note: str | None = None
    data: dict[str, object] = field(default_factory=dict)


@dataclass(frozen=True, slots=True)
class Event:
    """A draft that the journal has taken.

    id: UUID version 7, so that ids sort by time. seq: 1, 2, 3 ... within its journal.
    at: aware datetime in UTC. offset_minutes: local time's offset from UTC when it was logged.
    program: version of handsfree that wrote it.
    """

    id: str
    seq: int
    at: datetime
    offset_minutes: int
    program: str
    draft: Draft

    @property
    def local(self) -> datetime:
        """When it happened by the clock on the wall, with its offset."""
        return self.at.astimezone(timezone(timedelta(minutes=self.offset_minutes)))

    @property
    def kind(self) -> Kind:
        """What happened."""
        return self.draft.kind
