"""Events, the rows of the journal: nothing else is stored.

Event identities that sort by time.

Source: RFC 9562, section 5.7 (UUID version 7) and section 6.2, method 2 (monotonic random).
"""

from __future__ import annotations

import secrets
from collections.abc import Callable
from dataclasses import dataclass, field
from datetime import datetime, timedelta, timezone
from enum import StrEnum
from uuid import UUID

from handsfree.length import Length
from handsfree.plan import Position


class Kind(StrEnum):
    """Kind of an event. A reading is never changed: a correction or a void refers back to it."""

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

    source: "voice" or "keypad". words: the spoken words, or the keys pressed. The numbers are those
    of `handsfree.hear.Hearing`. sound: name of the stored recording, where sound is kept.
    """

    source: str
    words: str
    recogniser: str | None = None
    fit: float | None = None
    margin: float | None = None
    runner_up: str | None = None
    origin: str | None = None
    sound: str | None = None


class LeafSide(StrEnum):
    """Where a gap lies that a single leaf was tried in: UNDER it (no go), or at it or OVER it (go)."""

    UNDER = "under"
    OVER = "over"


@dataclass(frozen=True, slots=True)
class Draft:
    """An event without the number, identity and time that the journal adds.

    value: the measurement, as entered. With `bound` the gap lies to that side of it; with `other` as well it
    lies between the two.
    refers_to: id of the event that a correction replaces or a void withdraws.
    verdict: the state that `judge` returned at the time of logging.
    data: further data of the kind, JSON-ready: "plan", "plan_name", "plan_digest" and who and
        with what for "opened" (`handsfree.session.opening` makes it), those of the plan, "changes" and
        "verdicts" for "plan", "count" for "turns" (a decimal as text), "done" (true or false) for
        "tick", candidates for "asked".
    """

    kind: Kind
    check: str | None = None
    position: Position | None = None
    value: Length | None = None
    bound: LeafSide | None = None
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
    """A draft with its number, identity and time.

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
        """Local time of the event, with its offset from UTC."""
        return self.at.astimezone(timezone(timedelta(minutes=self.offset_minutes)))

    @property
    def kind(self) -> Kind:
        """Kind of the event."""
        return self.draft.kind


_RANDOM_BITS = 74  # 12 bits of rand_a and 62 of rand_b
_STEP_BITS = 32  # largest random step to a second id of the same millisecond, which can't be guessed


class Identities:
    """A source of UUIDs of version 7, each greater than the last, even if the clock goes back."""

    def __init__(self, bits: Callable[[int], int] = secrets.randbits, after: str | None = None) -> None:
        """Start after the id `after`; `bits(n)` returns n random bits."""
        self._bits = bits
        self._millisecond = -1
        self._random = 0
        if after is not None:
            self.follow(after)

    def follow(self, identity: str) -> None:
        """Make every later id greater than `identity`, if that is a version 7 UUID."""
        try:
            known = UUID(identity)
        except ValueError:
            return
        if known.version == 7:
            number = known.int
            random = (number >> 64 & 0xFFF) << 62 | number & (1 << 62) - 1
            self._millisecond, self._random = max((self._millisecond, self._random), (number >> 80, random))

    def give(self, at: datetime) -> str:
        """Return the next id, made at the aware time `at`.

        >>> from datetime import UTC
        >>> Identities(bits=lambda n: 0).give(datetime(2022, 2, 22, 19, 22, 22, tzinfo=UTC))
        '017f22e2-79b0-7000-8000-000000000000'
        """
        millisecond = max(0, round(at.timestamp() * 1000))  # a clock that was never set may be before 1970
        if millisecond > self._millisecond:
            self._millisecond = millisecond
            self._random = self._bits(_RANDOM_BITS - 1)  # the top bit is left free as room for counting
        else:
            self._random += 1 + self._bits(_STEP_BITS)
            if self._random >> _RANDOM_BITS:
                self._millisecond += 1
                self._random = self._bits(_RANDOM_BITS - 1)
        number = self._millisecond << 80 | 7 << 76 | (self._random >> 62) << 64 | 2 << 62
        return str(UUID(int=number | self._random & (1 << 62) - 1))
