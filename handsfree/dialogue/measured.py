"""A size was told: log it where it belongs, judge it, say what is left."""

from __future__ import annotations

from collections.abc import Sequence

from handsfree.dialogue.answer import (
    Answer,
    Said,
    amount_of,
    entry_amount,
    known_bounds,
    last_measured,
    place_of,
    said_between,
    whole,
)
from handsfree.judge import State, Verdict, judge_bounds
from handsfree.length import Length
from handsfree.plan import Check, Rule
from handsfree.plan.position import Position
from handsfree.record import Draft, Entry, Heard, Kind, Session
from handsfree.speak import Amount, Bound, Reply, Side, Wording
from handsfree.understand import Bracket, Command, Reading, command_form


def log_size(
    say: Wording,
    session: Session,
    named: Position | None,
    said: Said,
    heard: Heard,
    *,
    corrects: Entry | None = None,
    withdrawn: str | None = None,
) -> Answer:
    """Log a size at a position (by default the one in hand) and answer with its verdict.

    corrects: the entry whose place it takes, in whatever check that was. withdrawn: a value that
    the same breath took back.
    """
    check = session.plan.check(corrects.check if corrects else session.check)
    place = whole(named, corrects.position if corrects else session.position)
    if place not in check.positions or check.rule is Rule.TICK:
        return Answer((), say.no_such_place(place))
    bounds = said.bounds if corrects else known_bounds(session, check, place, said.bounds)
    verdict = judge_bounds(check.target(place), bounds, check.rule, check.unit)
    draft = Draft(
        Kind.CORRECTION if corrects else Kind.READING,
        check=check.name,
        position=place,
        value=said.value,
        bound=said.bound,
        other=said.other,
        feel=said.feel,
        refers_to=corrects.event.id if corrects else None,
        verdict=verdict.state.value,
        remaining=verdict.remaining,
        heard=heard,
        data={"withdrawn": withdrawn} if withdrawn else {},
    )
    then = next_open(session, check, place) if verdict.state is State.GOOD else None
    drafts = (draft,) if then is None else (draft, Draft(Kind.MOVE, check=check.name, position=then))
    amount = said.amount if bounds == said.bounds else amount_of(bounds) or said.amount
    was = entry_amount(corrects) if corrects else None
    return Answer(drafts, verdict_reply(say, check, place, amount, verdict, was, then))


def verdict_reply(
    say: Wording,
    check: Check,
    place: Position,
    amount: Amount,
    verdict: Verdict,
    was: Amount | None = None,
    then: Position | None = None,
) -> Reply:
    """Word a verdict: the value first, then the amount left to remove."""
    filed = check.rule is Rule.FILE_TO_GAP
    if verdict.state is State.SHORT and verdict.remaining is not None:
        left: Amount = verdict.remaining
        if verdict.at_least:
            left = Bound(Side.OVER, verdict.remaining)
        return say.short(
            place, amount, left, was=was, action="file" if filed and not verdict.at_least else "to_go"
        )
    if verdict.state is State.OVER and verdict.excess is not None:
        remedy = "ring" if filed else "part"
        return say.over(place, amount, verdict.excess, was=was, remedy=remedy)
    if verdict.state is State.GOOD:
        return say.good(place, amount, was=was, then=then, last=then is None)
    if verdict.state is State.OPEN:
        return say.unsettled(place, amount, was=was)
    return say.uncertain(place, amount, was=was)


def is_open(session: Session, check: Check, position: Position) -> bool:
    """Whether a position still wants work: nothing logged that is good, or not ticked."""
    current = session.current(check.name, position)
    if current is None:
        return True
    if current.done is not None:
        return not current.done
    return current.event.draft.verdict != State.GOOD.value


def next_open(session: Session, check: Check, place: Position) -> Position | None:
    """The first open position after `place`, in work order and round again."""
    order = check.positions
    start = order.index(place) + 1
    around = (*order[start:], *order[: start - 1])
    return next((position for position in around if is_open(session, check, position)), None)


def still_open(session: Session, check: Check) -> list[Position]:
    """The open positions in work order."""
    return [position for position in check.positions if is_open(session, check, position)]


def is_plausible(check: Check, place: Position, sizes: Sequence[Length]) -> bool:
    """Whether sizes can be true at a place; outside its window they are asked about first."""
    window = check.windows.get(place)
    return window is None or all(window[0].mm <= size.mm <= window[1].mm for size in sizes)


def asks_first(session: Session, command: Command) -> bool:
    """Whether a reading can hardly be true where it belongs, so that it must be asked about."""
    if not isinstance(command, Reading):
        return False
    entry = last_measured(session) if command.corrects else None
    check = session.plan.check(entry.check if entry else session.check)
    return not is_plausible(check, place_of(session, command), [command.value])


def ask_first(say: Wording, session: Session, reading: Reading, heard: Heard) -> Answer:
    """Ask whether a reading that can hardly be true was meant; affirm logs it."""
    place = place_of(session, reading)
    draft = Draft(
        Kind.ASKED,
        check=session.check,
        position=place,
        heard=heard,
        data={"about": "reading", "candidates": [command_form(reading)]},
    )
    return Answer((draft,), say.confirm_value(reading.value, place))


def log_bracket(
    say: Wording, session: Session, bracket: Bracket, heard: Heard, corrects: Entry | None = None
) -> Answer:
    """Log two leaves of one breath; where one can't be true, nothing is logged and it is said again."""
    check = session.plan.check(corrects.check if corrects else session.check)
    place = whole(bracket.position, corrects.position if corrects else session.position)
    for leaf in (bracket.goes, bracket.stops):
        if not is_plausible(check, place, [leaf]):
            return Answer((), say.out_of_range(place, leaf))
    return log_size(
        say, session, bracket.position, said_between(bracket.goes, bracket.stops), heard, corrects=corrects
    )
