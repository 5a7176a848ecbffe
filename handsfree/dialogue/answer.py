"""What a command comes to: drafts for the journal and one reply."""

from __future__ import annotations

from dataclasses import dataclass

from handsfree.judge import Bounds
from handsfree.length import Length
from handsfree.plan.position import Position
from handsfree.record import Draft, Entry, Session
from handsfree.speak import Amount, Between, Bound, Reply, Side
from handsfree.understand import Feel


@dataclass(frozen=True, slots=True)
class Answer:
    """What to store, in order, and what to say."""

    drafts: tuple[Draft, ...]
    reply: Reply


@dataclass(frozen=True, slots=True)
class Said:
    """What was said of a size: what is known by it, how it is spoken, how it is stored."""

    bounds: Bounds
    amount: Amount
    value: Length
    bound: str | None = None
    other: Length | None = None
    feel: str | None = None


def said_value(value: Length, feel: Feel | None) -> Said:
    """A value by its feel: no go and go are bounds, drag and nothing said are the size itself."""
    match feel:
        case Feel.NO_GO:
            return Said(Bounds.under(value), Bound(Side.UNDER, value), value, "under", feel=feel.value)
        case Feel.GO:
            return Said(Bounds.over(value), Bound(Side.AT_LEAST, value), value, "over", feel=feel.value)
        case _:
            return Said(Bounds.exactly(value), value, value, feel=feel.value if feel else None)


def said_between(goes: Length, stops: Length) -> Said:
    """Two leaves: the first enters, the second doesn't."""
    return Said(
        Bounds(goes, stops, below_high=True), Between(goes, stops), goes, "over", stops, Feel.GO.value
    )


def bounds_of(entry: Entry) -> Bounds | None:
    """What a logged entry tells of the size; None for a tick."""
    draft = entry.event.draft
    if draft.value is None:
        return None
    if draft.other is not None:
        return Bounds(draft.value, draft.other, below_high=True)
    if draft.bound == "under":
        return Bounds.under(draft.value)
    if draft.bound == "over":
        return Bounds.over(draft.value)
    return Bounds.exactly(draft.value)


def amount_of(bounds: Bounds) -> Amount | None:
    """How bounds are spoken; None where nothing is known."""
    low, high = bounds.low, bounds.high
    if low is not None and high is not None:
        return low if bounds.is_exact else Between(low, high)
    if high is not None:
        return Bound(Side.UNDER if bounds.below_high else Side.AT_MOST, high)
    return Bound(Side.AT_LEAST, low) if low is not None else None


def entry_amount(entry: Entry) -> Amount | None:
    """How a logged entry is spoken."""
    bounds = bounds_of(entry)
    return amount_of(bounds) if bounds is not None else None


def known_bounds(session: Session, place: Position, seen: Bounds) -> Bounds:
    """Join a leaf with the leaf before it on the same, unfiled ring: go 18 and no go 19 are between.

    A gap only grows. So "at least" holds on; "under" holds only while nothing was filed, which is
    taken to be so when that leaf gave no order to file and no turns were told. What contradicts
    is left alone: the newer leaf counts by itself.
    """
    before = session.current(session.check, place)
    known = bounds_of(before) if before is not None else None
    if before is None or known is None or seen.is_exact or known.is_exact:
        return seen
    filed = before.event.draft.verdict == "short" or session.turns_since(session.check, place) > 0
    if filed and known.high is not None:
        known = Bounds(known.low, None)
    joined = seen.meet(known)
    return joined if joined.is_possible else seen


def whole(named: Position | None, in_hand: Position) -> Position:
    """Fill what a partial position leaves open from the position in hand.

    >>> str(whole(Position.of({"cylinder": "4"}), Position.of({"cylinder": "3", "ring": "top"})))
    'cylinder 4, ring top'
    """
    if named is None:
        return in_hand
    return Position(tuple((axis, named.get(axis) or label) for axis, label in in_hand.labels))
