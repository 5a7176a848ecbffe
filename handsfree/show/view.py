"""What the display shows, as plain data: made from the session, without a screen.

The same as lines of plain text, for screen readers, pipes and logs.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from enum import StrEnum
from itertools import pairwise
from statistics import quantiles

from handsfree.bench import Exchange
from handsfree.dialogue import ABOUT_AGAIN, ABOUT_FINISH, about, candidates, place_of
from handsfree.journal import Kind
from handsfree.judge import State, difference
from handsfree.length import Length, as_given, plain
from handsfree.live import Ears, LiveState
from handsfree.plan import QUESTION, Check, Position, Rule, Target
from handsfree.session import Entry, Session, joint_at, part_figures, state_at, target_at
from handsfree.speak import Tone
from handsfree.understand import Move, Outcome, pad_for

METER_STEPS = 12
_LOWEST_DB, _HIGHEST_DB = -70.0, -6.0
_FEWEST = 4  # positions needed for an estimate
_BREAK = timedelta(minutes=15)  # a longer gap was a break and not work (common practice, no source)


class Mark(StrEnum):
    """The state of a position; the value is its sign, readable without colour."""

    OPEN = "."
    SHORT = "<"
    GOOD = "="
    OVER = ">"
    UNSURE = "?"
    NOTED = "~"


MARK_WORDS = {
    Mark.OPEN: "open",
    Mark.SHORT: "short",
    Mark.GOOD: "good",
    Mark.OVER: "over",
    Mark.UNSURE: "unsure",
    Mark.NOTED: "noted",
}
_MARKS = {
    State.SHORT.value: Mark.SHORT,
    State.GOOD.value: Mark.GOOD,
    State.OVER.value: Mark.OVER,
    State.UNCERTAIN.value: Mark.UNSURE,
    State.OPEN.value: Mark.UNSURE,
}


@dataclass(frozen=True, slots=True)
class Cell:
    """One position of the grid: its sign, its reading if it has one, and whether it is in hand."""

    mark: Mark = Mark.OPEN
    value: str = ""
    in_hand: bool = False


@dataclass(frozen=True, slots=True)
class Grid:
    """The positions of a check: one axis across, the others down."""

    across: tuple[str, ...]
    down: tuple[str, ...]
    cells: tuple[tuple[Cell | None, ...], ...]


@dataclass(frozen=True, slots=True)
class BenchView:
    """Everything on the display.

    place: the position in hand, in short ("3 top"). of: the position that `reading` and `amount`
    belong to. mark: its state. amount: the largest figure, with `caption`.
    meter, floor: level of microphone and room, in steps of `METER_STEPS`.
    question: the open question, in lines as short as possible; empty if there is none.
    notice: text to read before the work begins.
    """

    title: str
    check: str
    place: str
    target: str
    of: str
    reading: str
    mark: Mark
    amount: str
    caption: str
    grid: Grid
    ears: Ears
    meter: int
    floor: int
    heard: str
    answer: str
    tone: Tone
    begun: str
    trouble: tuple[str, ...]
    done: int
    total: int
    estimate: str
    clock: str
    device: str
    keypad: str
    question: tuple[str, ...] = ()
    notice: tuple[str, ...] = ()


def bench_view(session: Session, state: LiveState, now: datetime) -> BenchView:
    """Return the view of a session at a given time; `now` is local time."""
    check = session.plan.check(session.check)
    hand = session.position
    shown = _subject(session, check)
    place = hand if shown is None else shown.position
    mark, amount, caption = _result(session, check, place, shown)
    results = session.results(check.name)
    done = [entry for entry in results.values() if _is_done(session, check, entry)]
    finished = sorted(entry.event.at for entry in done)
    target = _target(session, check, hand)
    return BenchView(
        title=session.plan.name,
        check=check.name,
        place=short_place(hand),
        target=_wanted(check, hand, target),
        of=short_place(place),
        reading="" if shown is None else reading_text(shown),
        mark=mark,
        amount=amount,
        caption=caption,
        grid=grid_of(session, check),
        ears=state.ears,
        meter=meter_steps(state.level_db),
        floor=meter_steps(state.floor_db),
        heard=state.heard,
        answer=state.answer,
        tone=state.tone,
        begun=state.begun,
        trouble=state.trouble,
        done=len(done),
        total=len(check.positions),
        estimate=estimate_words(time_left(finished, len(check.positions) - len(done))),
        clock=now.strftime("%H:%M"),
        device=state.device,
        keypad=state.keypad,
        question=question_lines(session, state.answer),
        notice=state.notice,
    )


_ASKED = {
    "cylinders": ("how many", "cylinders"),
    "rings": ("how many", "rings"),
    "top target": ("top ring", "gap?"),
    "second target": ("second", "gap?"),
    "allowance": ("how much", "more?"),
}


def question_lines(session: Session, answer: str) -> tuple[str, ...]:
    """Return the open question in lines short enough for large letters: its candidates or first sentence."""
    if session.asked is None:
        axis, label = session.position.labels[0]
        return _ASKED.get(label, ()) if axis == QUESTION else ()
    subject = about(session)
    if subject == ABOUT_AGAIN:
        return ("AGAIN?",)
    if subject == ABOUT_FINISH:
        return ("FINISH?",)
    readings = candidates(session)
    if not readings:
        return (f"{answer.split('?')[0].rstrip('.')}?",)
    values = list(dict.fromkeys(plain(reading.value.value) for reading in readings))
    places = list(dict.fromkeys(short_place(place_of(session, reading)) for reading in readings))
    if len(readings) == 1:
        return (places[0], f"{values[0]}?")
    options = values if len(values) > 1 else places
    return (*(f"{each} or" for each in options[:-1]), f"{options[-1]}?")


def short_place(position: Position) -> str:
    """Name a position as short as possible: its labels, with the axis if a number stands alone.

    >>> short_place(Position.of({"cylinder": "3", "ring": "top"}))
    '3 top'
    >>> short_place(Position.of({"main": "2"}))
    'main 2'
    """
    labels = [label for _, label in position.labels]
    if len(labels) == 1 and labels[0][:1].isdigit():
        return f"{position.labels[0][0]} {labels[0]}"
    return " ".join(labels)


def reading_text(entry: Entry) -> str:
    """Write a reading as it is keyed: "18", "18-" no go, "18+" go, "18+19-" between two leaves."""
    draft = entry.event.draft
    if entry.done is not None:
        return "done" if entry.done else "not done"
    if draft.value is None:
        return ""
    if draft.other is not None:
        return f"{as_given(draft.value.value)}+{as_given(draft.other.value)}-"
    return as_given(draft.value.value) + {"under": "-", "over": "+"}.get(draft.bound or "", "")


def mark_of(entry: Entry | None) -> Mark:
    """Return the sign of a position's current entry."""
    if entry is None:
        return Mark.OPEN
    if entry.done is not None:
        return Mark.GOOD if entry.done else Mark.OPEN
    return _MARKS.get(entry.event.draft.verdict or "", Mark.NOTED)


def mark_at(session: Session, check: Check, entry: Entry | None) -> Mark:
    """Return the present sign of a position: parts together, gaps by their bores as measured."""
    if entry is None or not (check.parts or check.bores_from):
        return mark_of(entry)
    state = state_at(session, check, entry.position)
    if state is None:
        return Mark.OPEN
    missing = check.parts and len(part_figures(session, check, entry.position)) < len(check.read_parts)
    return Mark.NOTED if missing and state is State.GOOD else _MARKS[state.value]


def meter_steps(level_db: float) -> int:
    """Convert a level to steps of the meter: 0 to `METER_STEPS`."""
    share = (level_db - _LOWEST_DB) / (_HIGHEST_DB - _LOWEST_DB)
    return round(METER_STEPS * min(1.0, max(0.0, share)))


def grid_of(session: Session, check: Check) -> Grid:
    """Arrange a check's positions: its longest axis across, the others down, in the plan's order."""
    columns, rows = _arranged(check)
    results = session.results(check.name)

    def cell(position: Position | None) -> Cell | None:
        if position is None:
            return None
        entry = results.get(position)
        mark = mark_at(session, check, entry)
        return Cell(mark, reading_text(entry) if entry else "", position == session.position)

    cells = tuple(tuple(cell(row.get(column)) for column in columns) for row in rows.values())
    return Grid(columns, tuple(rows), cells)


def grid_keys(session: Session) -> tuple[tuple[str, ...], ...]:
    """Return the keys that lead to each cell of the grid; empty where none do."""
    check = session.plan.check(session.check)
    pad = pad_for(session.plan, check, session.position)
    columns, rows = _arranged(check)

    def keys(position: Position | None) -> str:
        return "" if position is None else pad.keys(Move(position)) or ""

    return tuple(tuple(keys(row.get(column)) for column in columns) for row in rows.values())


def _arranged(check: Check) -> tuple[tuple[str, ...], dict[str, dict[str, Position]]]:
    """Return the labels across, and the positions by the labels down and across."""
    names = list(dict.fromkeys(axis for position in check.positions for axis, _ in position.labels))
    labels = {
        name: list(dict.fromkeys(label for p in check.positions if (label := p.get(name)) is not None))
        for name in names
    }
    across = max(names, key=lambda name: len(labels[name]))
    rows: dict[str, dict[str, Position]] = {}
    for position in check.positions:
        rest = " ".join(label for axis, label in position.labels if axis != across) or check.name
        rows.setdefault(rest, {})[position.get(across) or ""] = position
    return tuple(labels[across]), rows


def _subject(session: Session, check: Check) -> Entry | None:
    """Return the entry behind the large figures: the last one, until the user moves elsewhere."""
    last = session.last_entry
    here = session.current(check.name, session.position)
    if last is None or not last.stands or last.check != check.name:
        return here
    event = session.last_event
    # the program itself moves on, in the event after a reading that needs no more work
    by_itself = 1 if event is not None and event.draft.heard is None else 0
    moved = event is not None and event.kind is Kind.MOVE and event.seq > last.event.seq + by_itself
    return last if last.position == session.position or not moved else here


def _target(session: Session, check: Check, place: Position) -> Target | None:
    """Return a position's target, by its bore as measured if the plan says so; None for a tick."""
    if place.labels[0][0] == QUESTION:
        return None
    return target_at(session, check, place) if check.item(place) in check.targets else None


def _wanted(check: Check, place: Position, target: Target | None) -> str:
    """Return the target of the position in hand: its limits, or a part's approximate nominal size."""
    if check.parts:
        nominal = check.part(place.labels[-1][1]).nominal
        return "" if nominal is None else f"about {nominal}"
    return "" if target is None else f"{as_given(target.lower.value)} to {target.upper}"


def _result(session: Session, check: Check, place: Position, entry: Entry | None) -> tuple[Mark, str, str]:
    """Return the sign, the largest figure and its caption."""
    target = _target(session, check, place)
    mark = mark_at(session, check, entry)
    if check.parts and mark in (Mark.OPEN, Mark.NOTED):
        return mark, session.position.labels[-1][1], "measure"  # the part in hand, not the sum of all
    if entry is None:
        return (Mark.OPEN, plain(target.aim.value), "aim") if target else (Mark.OPEN, "", "")
    draft = entry.event.draft
    if check.parts and mark in (Mark.SHORT, Mark.OVER):
        return mark, *_of_parts(session, check, place)
    if mark is Mark.SHORT and draft.remaining is not None:
        if draft.bound == "under" and draft.remaining.value == 0:
            return mark, "FILE", "file"  # a leaf of the aim's own size: the amount is unknown
        more = ">" if draft.bound == "under" else ""
        action = "file" if check.rule is Rule.FILE_TO_GAP else "short by"
        return mark, more + _figure(draft.remaining), action
    if mark is Mark.OVER and target is not None and draft.value is not None:
        low = draft.value if draft.other is None or draft.bound else draft.other
        return mark, _figure(difference(low, target.upper, check.unit)), "over by"
    return mark, {Mark.GOOD: "GOOD", Mark.UNSURE: "AGAIN"}.get(mark, reading_text(entry)), MARK_WORDS[mark]


def _of_parts(session: Session, check: Check, place: Position) -> tuple[str, str]:
    """Return the main figure if parts together are outside their limits, and its caption."""
    joint = joint_at(session, check, place)
    if joint.shim is not None and joint.shim.choice is not None:
        return _figure(joint.shim.choice), "fit shim"
    verdict = joint.verdict
    if verdict is None:
        return "", ""
    if verdict.excess is not None:
        return _figure(verdict.excess), "over by"
    return ("", "") if verdict.remaining is None else (_figure(verdict.remaining), "short by")


def _figure(length: Length) -> str:
    """Write an amount short enough for large letters: at most four places, the rest truncated."""
    return re.sub(r"(\.\d{4})\d+$", r"\1", plain(length.value))


def _is_done(session: Session, check: Check, entry: Entry) -> bool:
    """Return whether a position needs no more work: it is good, or measured without a target."""
    if state_at(session, check, entry.position) is State.GOOD:
        return True
    return mark_of(entry) is Mark.NOTED and check.item(entry.position) not in check.targets


def time_left(finished: Sequence[datetime], still_open: int) -> tuple[timedelta, timedelta] | None:
    """Estimate the time for the open positions, from the times of those done.

    Args:
        finished: when each position was finished, in order.
        still_open: how many are left.

    Returns:
        The range between the lower and the upper quartile for each, or None if too few are done or
        nothing is left.
    """
    gaps = [later - before for before, later in pairwise(finished)]
    worked = [gap.total_seconds() for gap in gaps if gap <= _BREAK]
    if still_open == 0 or len(worked) < _FEWEST - 1:
        return None
    low, _, high = quantiles(worked, n=4, method="inclusive")
    return timedelta(seconds=low * still_open), timedelta(seconds=high * still_open)


def estimate_words(left: tuple[timedelta, timedelta] | None) -> str:
    """Return a range in minutes, rounded more coarsely the longer it is; empty for None.

    >>> estimate_words((timedelta(minutes=21), timedelta(minutes=38)))
    '20 to 40 min left'
    >>> estimate_words((timedelta(seconds=30), timedelta(seconds=50)))
    '1 min left'
    """
    if left is None:
        return ""
    low, high = (each.total_seconds() / 60 for each in left)
    step = 1 if high < 10 else 5 if high < 60 else 10
    lower, upper = (max(1, round(each / step) * step) for each in (low, high))
    return f"{lower} min left" if lower == upper else f"{lower} to {upper} min left"


def exchange_lines(exchange: Exchange) -> list[str]:
    """Return the words heard or keyed, and the answer; nothing for chatter."""
    if exchange.decision is not None and exchange.decision.outcome is Outcome.IGNORE:
        return []
    lines = []
    if exchange.source == "keypad":
        lines.append(f"keyed: {exchange.words} Enter".replace("  ", " "))
    elif exchange.source == "voice":
        unsure = exchange.decision is not None and exchange.decision.outcome is Outcome.ASK
        lines.append(f"{'unsure' if unsure else 'heard'}: {exchange.words}")
    if exchange.reply.text:
        lines.append(f"answer: {exchange.reply.text}")
    return lines


def change_lines(before: LiveState, after: LiveState) -> list[str]:
    """Return other changes: new or cleared trouble, and ears that became deaf or asleep."""
    lines = [f"trouble: {each}" for each in after.trouble if each not in before.trouble]
    lines += [f"over: {each}" for each in before.trouble if each not in after.trouble]
    told = {Ears.DEAF, Ears.ASLEEP}
    if after.ears is not before.ears and (after.ears in told or before.ears in told):
        lines.append(f"ears: {after.ears.value}")
    if after.overflows > before.overflows:
        lines.append(f"sound was lost, {after.overflows} times so far")
    return lines
