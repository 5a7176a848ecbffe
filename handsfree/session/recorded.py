"""A journal as it is read back: its events, and the session that they come to under the plan it holds."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from pathlib import Path

from handsfree.errors import JournalError
from handsfree.journal import Event, Journal
from handsfree.planfile import parse_plan
from handsfree.session.fold import fold
from handsfree.session.session import Session, plan_text


@dataclass(frozen=True)
class Recorded:
    """One journal. `head` is the hash of its last event."""

    path: Path
    events: tuple[Event, ...]
    session: Session
    head: str

    @property
    def engine(self) -> str:
        """What was on the bench, as the plan names it."""
        return str(self.session.plan.engine)

    @property
    def began(self) -> Event:
        """The first event."""
        return self.events[0]

    @property
    def ended(self) -> datetime:
        """When the last event was logged, UTC."""
        return self.events[-1].at

    def fact(self, name: str) -> str | None:
        """Give a fact that the session was opened with, such as `who` or `instrument`."""
        return self.session.facts.get(name)

    def question_before(self, event: Event) -> Event | None:
        """Give the question that was open when an event was logged, or None."""
        return fold(self.session.plan, self.events[: self.events.index(event)]).asked


def read(path: Path | str) -> Recorded:
    """Read a journal without changing it, with what is kept beside it because it couldn't be written yet.

    Raises:
        JournalError: it isn't there, isn't a journal, is damaged, or holds no session.
        PlanError: its plan is one that this version can't read.
    """
    path = Path(path)
    with Journal.open(path, read_only=True) as journal:
        events = tuple(journal.events())
        head = journal.head
    if not events:
        raise JournalError(f"The journal {path} is empty: nothing was logged in it.")
    plan = parse_plan(plan_text(events), f"{path} (its plan)")
    return Recorded(path, events, fold(plan, events), head)
