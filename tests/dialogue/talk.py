"""A bench in memory that is spoken to in words or keyed, and a plan with three sorts of checks."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import UTC, datetime, timedelta
from functools import partial

from handsfree.bench import Bench, Exchange
from handsfree.dialogue import can_be_meant
from handsfree.hear import Hearing
from handsfree.plan import Plan, parse_plan
from handsfree.record import Entry, Journal, Kind
from handsfree.understand import Decision, Evidence, Listening, Outcome, decide, listen_for

PLAN_TEXT = """
format = 1
name = "Two by two"

[engine]
name = "Bench twin"
bore = "4.030 in"

[[check]]
name = "ring gaps"
rule = "file to gap"
unit = "thou"

[check.axes]
cylinder = 2
ring = ["top", "second"]

[[check.target]]
aim = "18 thou"
plus = "1.5 thou"

[[check]]
name = "side clearance"
rule = "limits"
unit = "mm"

[check.axes]
cylinder = 2

[[check.target]]
aim = "0.05 mm"
plus = "0.02 mm"
minus = "0.02 mm"

[[check]]
name = "washed"
rule = "tick"

[check.axes]
cylinder = 2
"""


class Clock:
    """Goes on by one second a look."""

    def __init__(self) -> None:
        self.now = datetime(2026, 11, 25, 8, 0, tzinfo=UTC)

    def __call__(self) -> datetime:
        self.now += timedelta(seconds=1)
        return self.now


class Talk:
    """A bench at work, and what a person may do to it.

    `say` passes words through the automaton and the decision as a recogniser's sure result would.
    """

    def __init__(self, plan: Plan, journal: Journal) -> None:
        self.plan = plan
        self.journal = journal
        self.bench = Bench(plan, journal)
        self.bench.open()

    @property
    def session(self):
        return self.bench.session

    def say(
        self, words: str, *, fit: float = -0.1, margin: float = 8.0, others: Sequence[tuple[str, float]] = ()
    ) -> Exchange:
        check = self.plan.check(self.session.check)
        listening = listening_for(self.plan, check.name)
        split = tuple(words.split())
        rivals = tuple((tuple(other.split()), behind) for other, behind in others)
        decision = decide(
            Evidence(split, fit, margin, rivals),
            listening.automaton,
            listening.at(self.session.position, check, partial(can_be_meant, self.session)),
        )
        return self._heard(split, fit, margin, decision)

    def mumble(self) -> Exchange:
        """Something unclear: asked about, with nothing to offer."""
        return self._heard((), -1.5, 0.1, Decision(Outcome.ASK))

    def chatter(self) -> Exchange:
        return self._heard(("eighteen",), -6.0, 0.1, Decision(Outcome.IGNORE))

    def key(self, entry: str) -> Exchange:
        return self.bench.key(entry)

    def _heard(self, words: tuple[str, ...], fit: float, margin: float, decision: Decision) -> Exchange:
        hearing = Hearing(words, 0.0, 1.0, "test", fit=fit, margin=margin)
        return self.bench.heard(hearing, decision)

    def log(self) -> list[str]:
        """Every entry that was ever logged, in order: place, amount, what became of it."""
        return [describe(entry) for entry in self.session.log()]

    def kinds(self) -> list[Kind]:
        return [event.kind for event in self.journal.events()]


_LISTENING: dict[tuple[str, str], Listening] = {}


def listening_for(plan: Plan, name: str) -> Listening:
    """Narrow the grammar once for all tests; it takes most of a second."""
    key = plan.digest, name
    if key not in _LISTENING:
        _LISTENING[key] = listen_for(plan, plan.check(name))
    return _LISTENING[key]


def describe(entry: Entry) -> str:
    draft = entry.event.draft
    place = " ".join(label for _, label in entry.position.labels)
    value = "done" if entry.done else "not done" if draft.value is None else str(draft.value)
    bound = f"{draft.bound} " if draft.bound else ""
    other = f" to {draft.other}" if draft.other else ""
    state = "" if entry.stands else f" ({entry.state.value})"
    return f"{place}: {bound}{value}{other}{state}"


def plan_of_three_checks() -> Plan:
    return parse_plan(PLAN_TEXT)
