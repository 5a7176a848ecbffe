"""A journal read back: its events, and their session under the journal's own plan."""

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
        """The plan's name for the engine on the bench."""
        return str(self.session.plan.engine)

    @property
    def began(self) -> Event:
        """The first event."""
        return self.events[0]

    @property
    def ended(self) -> datetime:
        """Time of the last event, UTC."""
        return self.events[-1].at

    def fact(self, name: str) -> str | None:
        """Return a fact from the opening of the session, such as `who` or `instrument`."""
        return self.session.facts.get(name)

    def question_before(self, event: Event) -> Event | None:
        """Return the question that was open when an event was logged, or None."""
        return fold(self.session.plan, self.events[: self.events.index(event)]).asked


def read(path: Path | str) -> Recorded:
    """Read a journal without changing it, including unsaved events kept beside it.

    Raises:
        JournalError: it is missing, isn't a journal, is damaged, or holds no session.
        PlanError: this version can't read its plan.
    """
    path = Path(path)
    with Journal.open(path, read_only=True) as journal:
        events = tuple(journal.events())
        head = journal.head
    if not events:
        raise JournalError(f"The journal {path} is empty: nothing was logged in it.")
    plan = parse_plan(plan_text(events), f"{path} (its plan)")
    return Recorded(path, events, fold(plan, events), head)
