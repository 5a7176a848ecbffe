"""The result of a command: drafts for the journal and one reply."""

from __future__ import annotations

from dataclasses import dataclass

from handsfree.journal import Draft, Kind, LeafSide
from handsfree.judge import Bounds
from handsfree.length import Length
from handsfree.plan import Check, Position
from handsfree.session import Entry, Session, bounds_of
from handsfree.speak import Amount, Between, Bound, Reply, Side, Wording
from handsfree.understand import Feel, Reading


@dataclass(frozen=True, slots=True)
class Answer:
    """Drafts to store, in order, and the reply."""

    drafts: tuple[Draft, ...]
    reply: Reply


@dataclass(frozen=True, slots=True)
class Said:
    """A spoken size: its bounds, its spoken form, its stored form."""

    bounds: Bounds
    amount: Amount
    value: Length
    bound: LeafSide | None = None
    other: Length | None = None
    feel: str | None = None


def said_value(value: Length, feel: Feel | None) -> Said:
    """Interpret a value by its feel: no go and go are bounds, drag or no feel is the size itself."""
    match feel:
        case Feel.NO_GO:
            return Said(Bounds.under(value), Bound(Side.UNDER, value), value, LeafSide.UNDER, feel=feel.value)
        case Feel.GO:
            return Said(
                Bounds.over(value), Bound(Side.AT_LEAST, value), value, LeafSide.OVER, feel=feel.value
            )
        case _:
            return Said(Bounds.exactly(value), value, value, feel=feel.value if feel else None)


def said_between(goes: Length, stops: Length) -> Said:
    """Interpret two leaves: the first enters, the second doesn't."""
    return Said(
        Bounds(goes, stops, below_high=True), Between(goes, stops), goes, LeafSide.OVER, stops, Feel.GO.value
    )


def amount_of(bounds: Bounds) -> Amount | None:
    """Return the spoken form of bounds; None where nothing is known."""
    low, high = bounds.low, bounds.high
    if low is not None and high is not None:
        return low if bounds.is_exact else Between(low, high)
    if high is not None:
        return Bound(Side.UNDER if bounds.below_high else Side.AT_MOST, high)
    return Bound(Side.AT_LEAST, low) if low is not None else None


def entry_amount(entry: Entry) -> Amount | None:
    """Return the spoken form of a logged entry."""
    bounds = bounds_of(entry)
    return amount_of(bounds) if bounds is not None else None


def last_measured(session: Session) -> Entry | None:
    """Return the entry that a correction applies to: the last one, if it has a value."""
    entry = session.last_entry
    return entry if entry is not None and entry.value is not None else None


def just_told(session: Session) -> bool:
    """Return whether the answer to the last entry was the last event.

    The program's move to the next place belongs to that answer, and so does a "say again?" after a
    "negative" that was not understood.
    """
    entry, event = session.last_entry, session.last_event
    if entry is None or event is None:
        return False
    own_move = event.kind is Kind.MOVE and event.draft.heard is None
    return event.seq - entry.event.seq <= (1 if own_move or event.kind is Kind.ASKED else 0)


def left_standing(session: Session, voided: Entry) -> Entry | None:
    """Return the entry that counts at a place without `voided`: the entry that it corrected counts again."""
    position = voided.check, voided.position
    back = session.find(voided.event.draft.refers_to or "")
    left = [entry for entry in session.standing(*position) if entry != voided]
    if back is not None and back.by == voided.event.id and (back.check, back.position) == position:
        left.append(back)
    return max(left, key=lambda entry: (entry.measured, entry.number), default=None)


def place_of(session: Session, reading: Reading) -> Position:
    """Return a reading's place, completed by the position in hand or by the entry that it corrects."""
    entry = last_measured(session) if reading.corrects else None
    return whole(reading.position, entry.position if entry is not None else session.position)


def whole(named: Position | None, in_hand: Position) -> Position:
    """Complete a partial position from the position in hand."""
    return in_hand if named is None else named.within(in_hand)


def words_at(say: Wording, check: Check, position: Position) -> Wording:
    """Return the wording for sizes at a place, with its unit for bare numbers."""
    return say.at(check.unit_at(position))
