"""The same engine before and after: every item of one session beside that of another."""

from __future__ import annotations

from dataclasses import dataclass

from handsfree.judge import difference
from handsfree.length import Length
from handsfree.plan import Position
from handsfree.record.recorded import Recorded
from handsfree.record.results import Result, results


@dataclass(frozen=True)
class Pair:
    """One item of a check in both sessions; None where one of them doesn't have it."""

    check: str
    item: Position
    before: Result | None
    after: Result | None

    @property
    def change(self) -> Length | None:
        """The later figure less the earlier one, or None where either isn't a figure.

        Exact if both are in one unit; otherwise rounded at six decimals of the later's, for showing.
        """
        first = self.before.figure if self.before else None
        second = self.after.figure if self.after else None
        return None if first is None or second is None else difference(second, first, second.unit)


def compare(before: Recorded, after: Recorded) -> list[Pair]:
    """Pair the items of two sessions by the names of check and position, in the later plan's order."""
    earlier = {(r.check.name, r.item): r for r in results(before.session, before.events)}
    later = {(r.check.name, r.item): r for r in results(after.session, after.events)}
    return [
        Pair(check, item, earlier.get((check, item)), later.get((check, item)))
        for check, item in {**later, **earlier}
    ]
