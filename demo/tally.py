"""Count a replayed session against its manifest: right, asked, missed, wrong. Pure."""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from decimal import Decimal
from enum import StrEnum
from itertools import groupby
from typing import Any

Row = Mapping[str, str]
Event = Mapping[str, Any]

VALUES = ("reading", "correction")
SILENT = ("ask", "drowned", "ignore", "hold")


class Outcome(StrEnum):
    """What came of one recording or key entry."""

    RIGHT = "right"
    ASKED = "asked for again"
    MISSED = "not logged"
    WRONG = "WRONG"


@dataclass
class Tally:
    """Outcomes of the values that should be logged, and of what should not be.

    extra: how many values were logged that nobody said. faults: one sentence for all that isn't right.
    """

    values: list[tuple[Row, Outcome]] = field(default_factory=list)
    silent: list[tuple[Row, Outcome]] = field(default_factory=list)
    extra: int = 0
    faults: list[str] = field(default_factory=list)

    @property
    def wrong(self) -> int:
        """How many wrong numbers were logged."""
        return self.extra + sum(found is Outcome.WRONG for _, found in [*self.values, *self.silent])

    def lines(self) -> list[str]:
        """Say it in a few lines."""
        spoken = [row for row, _ in self.values if row["voice"] != "keypad"]
        voices = len({row["voice"] for row in spoken})
        noisy = sum(bool(row["noise"]) for row in spoken)
        right = sum(found is Outcome.RIGHT for _, found in self.values)
        lines = [
            f"Readings right: {right} of {len(self.values)} "
            f"({len(spoken)} spoken in {voices} voices, {noisy} of them in noise; "
            f"{len(self.values) - len(spoken)} keyed)"
        ]
        for outcome, number in Counter(found for _, found in self.values).items():
            if outcome is not Outcome.RIGHT:
                lines.append(f"Readings {outcome}: {number}")
        held = sum(found is Outcome.RIGHT for _, found in self.silent)
        lines.append(f"Kept out of the log: {held} of {len(self.silent)} that must not be in it")
        lines.append(f"Wrong numbers logged: {self.wrong}")
        return lines + [f"  {fault}" for fault in self.faults]


def tally(rows: Sequence[Row], exported: Mapping[str, Any]) -> Tally:
    """Compare the manifest's rows, in order, with the events of an exported session."""
    counts = Tally()
    events: list[Event] = exported["events"]
    for file, group in groupby(rows, key=lambda row: row["file"]):
        logged = [e for e in events if e.get("origin") == file and e["kind"] in VALUES]
        asked = any(e.get("origin") == file and e["kind"] == "asked" for e in events)
        for row in group:
            if row["expect"] in VALUES:
                event = logged.pop(0) if logged else None
                counts.values.append((row, _value(row, event, asked, counts.faults)))
            elif row["expect"] in SILENT:
                counts.silent.append((row, _silent(row, logged, counts.faults)))
                logged = []
        for event in logged:
            counts.faults.append(f"{file}: {_written(event)} was logged and not said")
        counts.extra += len(logged)
    return counts


def _value(row: Row, event: Event | None, asked: bool, faults: list[str]) -> Outcome:
    if event is None:
        faults.append(f'{row["file"]}: "{row["text"]}" was {"asked for again" if asked else "not logged"}')
        return Outcome.ASKED if asked else Outcome.MISSED
    differing = [
        f"{name} {found or 'none'}, wanted {wanted or 'none'}"
        for name, wanted, found in (
            ("kind", row["expect"], event["kind"]),
            *_places(row, event),
            ("value", _number(row["value"]), _number(event["value"])),
            ("unit", row.get("unit", "thou"), event["unit"]),
            ("bound", row["bound"], event.get("bound") or ""),
            ("verdict", row["verdict"], event.get("verdict") or ""),
            ("left", _number(row["left"]), _number(event.get("remaining") or "")),
        )
        if wanted != found and not (name == "left" and not wanted)
    ]
    if differing:
        faults.append(f'{row["file"]}: "{row["text"]}" gave {"; ".join(differing)}')
        return Outcome.WRONG
    return Outcome.RIGHT


def _places(row: Row, event: Event) -> list[tuple[str, str, str]]:
    """Where a value belongs, wanted and found: by check and place, or by cylinder and ring."""
    if "place" in row:
        return [("check", row["check"], event["check_name"]), ("place", row["place"], event["position"])]
    return [(axis, row[axis], _label(event, axis)) for axis in ("cylinder", "ring")]


def _silent(row: Row, logged: Sequence[Event], faults: list[str]) -> Outcome:
    if not logged:
        return Outcome.RIGHT
    if row["expect"] == "drowned" and len(logged) == 1:
        return _value({**row, "expect": "reading"}, logged[0], asked=False, faults=faults)
    faults.append(f'{row["file"]}: "{row["text"]}" was logged as {_written(logged[0])}')
    return Outcome.WRONG


def _label(event: Event, axis: str) -> str:
    return str(dict(event["labels"]).get(axis, ""))


def _number(text: str) -> Decimal | None:
    return Decimal(text) if text else None


def _written(event: Event) -> str:
    return f"{event['value']} {event['unit']} at {event['position']}"
