"""The result of each item of a plan: its target, reading, verdict, and working time.

A shim out of one place may go into another, if the plan allows it. Pure: computed from the session each
time, so that a void or a correction takes effect here too.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from functools import cached_property

from handsfree.journal import Draft, Event, Kind
from handsfree.judge import (
    SIMPLE,
    Joint,
    ShimChoice,
    State,
    certainty_of,
    judge_joint,
    judge_lash,
    judge_shim,
    sum_of_parts,
)
from handsfree.length import Length, as_given
from handsfree.plan import PART, Certainty, Check, Position, Rule, Target, measured_target
from handsfree.session.current import bores_for_gaps, figure_of, is_doubted, part_figures
from handsfree.session.session import Entry, Session


@dataclass(frozen=True, slots=True)
class PulledShim:
    """A shim's measured size, and the item that it came, or will come, out of."""

    size: Length
    item: Position


@dataclass(frozen=True, slots=True)
class _Story:
    """History of one item's shims.

    pulled: shims that came out, or must. fitted: the sizes that went in after the first.
    due: number of the entry that showed that the present shim must come out, else None.
    """

    pulled: tuple[PulledShim, ...]
    fitted: tuple[Length, ...]
    due: int | None


def joint_at(session: Session, check: Check, place: Position) -> Joint:
    """Judge a difference or a shim by the standing readings and the shims to hand there."""
    to_hand = tuple(shim.size for shim in shims_to_hand(session, check, check.item(place)))
    return judge_joint(session.plan, check, place, part_figures(session, check, place), to_hand)


def taken_from(session: Session, check: Check, place: Position, choice: Length | None) -> Position | None:
    """Return the item that the chosen shim comes out of, or None if it is a new one."""
    found = (shim for shim in shims_to_hand(session, check, check.item(place)) if shim.size == choice)
    return next((shim.item for shim in found), None)


def shims_to_hand(session: Session, check: Check, item: Position) -> tuple[PulledShim, ...]:
    """Return the shims out of other items that no item with an earlier claim needs.

    Items choose in the order in which their lash was found wrong. A shim fitted elsewhere since is gone.
    """
    if not check.reuse:
        return ()
    stories = {each: _story(session, check, each) for each in check.items}
    free = [shim for story in stories.values() for shim in story.pulled]
    for size in (size for story in stories.values() for size in story.fitted):
        _take(free, size)
    due = {each: story.due for each, story in stories.items() if story.due is not None}
    for other in sorted(due, key=due.__getitem__):
        if other == item:
            break
        figures = part_figures(session, check, other)
        theirs = tuple(shim.size for shim in free if shim.item != other)
        chosen = judge_joint(session.plan, check, other, figures, theirs).shim
        if chosen is not None and chosen.choice is not None:
            _take(free, chosen.choice, but=other)
    return tuple(shim for shim in free if shim.item != item)


def _take(free: list[PulledShim], size: Length, but: Position | None = None) -> None:
    taken = next((shim for shim in free if shim.size.mm == size.mm and shim.item != but), None)
    if taken is not None:
        free.remove(taken)


def _story(session: Session, check: Check, item: Position) -> _Story:
    shim, lash = (check.at_part(item, part.name) for part in check.read_parts)
    entries = [entry for place in (shim, lash) for entry in session.standing(check.name, place)]
    together: dict[Position, Length] = {}
    pulled: list[PulledShim] = []
    fitted: list[Length] = []
    due = None
    for entry in sorted(entries, key=lambda entry: (entry.measured, entry.number)):
        if due is not None:  # the old shim came out: this reading is of another one
            pulled.append(PulledShim(together[shim], item))
            together, due = {}, None
        figure = figure_of(entry)
        if figure is None or is_doubted(entry):
            together.pop(entry.position, None)
            continue
        together[entry.position] = figure
        if entry.position == shim and pulled:
            fitted.append(figure)
        if len(together) == 2 and _is_wrong(session, check, item, together[lash]):
            due = entry.measured
    if due is not None:
        pulled.append(PulledShim(together[shim], item))
    return _Story(tuple(pulled), tuple(fitted), due)


def _is_wrong(session: Session, check: Check, item: Position, lash: Length) -> bool:
    """Return whether a lash calls for another shim; an uncertain lash calls for another reading."""
    return judge_lash(session.plan, check, item, lash).state in (State.SHORT, State.OVER)


@dataclass(frozen=True)
class Result:
    """Result of one item of a check.

    entries: the current entry of each of its positions, parts in the plan's order; None where no entry
    stands. tries: number of readings taken there, without voided ones. work: working time without
    breaks; None if events weren't given. together: whether the readings of its parts belong together;
    false if one is in doubt, or if a shim was changed and its lash not read since. to_hand: shims out of
    other items that may go in here. certainty: that of the value the limits apply to.
    """

    check: Check
    item: Position
    target: Target | None
    entries: tuple[tuple[Position, Entry | None], ...]
    tries: int
    work: timedelta | None = None
    together: bool = True
    to_hand: tuple[PulledShim, ...] = ()
    certainty: Certainty = SIMPLE

    @cached_property
    def last(self) -> Entry | None:
        """The latest logged of the current entries."""
        held = [entry for _, entry in self.entries if entry is not None]
        return max(held, key=lambda entry: entry.number, default=None)

    @property
    def complete(self) -> bool:
        """Whether every position of the item has a standing entry, and no tick is "not done"."""
        return self.together and all(
            entry is not None and entry.done is not False for _, entry in self.entries
        )

    @property
    def verdict(self) -> State | None:
        """The verdict logged with the last of its readings, or None before that."""
        return None if self.last is None or not self.complete else self.last.verdict

    @property
    def limits(self) -> str:
        """The limits as text, with the aim unless it is the lower limit: "18 to 19.5 thou"."""
        target = self.target
        if target is None:
            return ""
        lower, aim, upper = target.lower, target.aim, target.upper
        same = lower.unit == aim.unit == upper.unit
        low, middle = (as_given(lower.value), as_given(aim.value)) if same else (str(lower), str(aim))
        return f"{low} to {upper}" if aim == lower else f"{middle} ({low} to {upper})"

    @property
    def at(self) -> datetime | None:
        """Time of the last measurement, UTC."""
        return None if self.last is None else self.last.event.at

    @cached_property
    def figure(self) -> Length | None:
        """The exact measured value; None for a bound, a tick, a shim, or while a part is missing."""
        readings = self._readings
        if not self.together:
            return None
        if not self.check.parts or readings is None:
            return None if readings is None else readings.get("")
        return sum_of_parts(self.check, readings) if self.check.rule is Rule.DIFFERENCE else None

    @cached_property
    def shim(self) -> ShimChoice | None:
        """The shim to fit and the lash with it, for a shim check with all its readings."""
        if self.check.rule is not Rule.SHIM or self.target is None or not self._readings or not self.together:
            return None
        sizes = tuple(shim.size for shim in self.to_hand)
        return judge_shim(self.check, self.target, self._readings, sizes, self.certainty)

    @property
    def against_limits(self) -> Length | None:
        """The value that the limits apply to: `figure`, or the lash where a shim is picked."""
        return self.shim.lash if self.shim is not None else self.figure

    @cached_property
    def _readings(self) -> dict[str, Length] | None:
        """The measured values by part ("" without parts), or None if one is missing or only a bound."""
        readings = {}
        for position, entry in self.entries:
            if entry is None or entry.value is None or entry.bound is not None:
                return None
            readings[position.get(PART) or ""] = entry.value
        return readings

    @property
    def text(self) -> str:
        """The reading as text: "18.5 thou", "under 18 thou", "done", parts by name."""
        if len(self.entries) == 1 and not self.check.parts:
            entry = self.entries[0][1]
            return "" if entry is None else entry_text(entry)
        parts = [
            f"{position.get(PART)} {entry_text(entry)}"
            for position, entry in self.entries
            if entry is not None
        ]
        before = [] if self.figure is None else [str(self.figure)]
        after = [] if self.shim is None else [_fit(self.shim, self.to_hand)]
        return "; ".join([*before, *parts, *after])


def _fit(shim: ShimChoice, to_hand: Iterable[PulledShim]) -> str:
    if shim.verdict.state is State.UNCERTAIN:
        return "measure the lash again"
    if not shim.change:
        return "keep the shim"
    if shim.choice is None:
        return "no shim that can be had fits"
    out_of = next((f" out of {one.item.key}" for one in to_hand if one.size == shim.choice), "")
    return f"fit {shim.choice}{out_of} for {shim.predicted}"


def entry_text(entry: Entry) -> str:
    """Return an entry's content as text."""
    if entry.done is not None:
        return "done" if entry.done else "not done"
    return length_text(entry.event.draft)


def length_text(draft: Draft) -> str:
    """Return the size of a draft as text: "18.5 thou", "under 18 thou", "17 to 18 thou"."""
    if draft.value is None:
        return ""
    if draft.other is not None:
        same = draft.other.unit == draft.value.unit
        return f"{as_given(draft.value.value) if same else draft.value} to {draft.other}"
    return f"{draft.bound} {draft.value}" if draft.bound else str(draft.value)


def results(session: Session, events: Iterable[Event] = ()) -> list[Result]:
    """Return every item of every check in work order, measured or not; working times need `events`."""
    times = work_times(session, events)
    return [result for check in session.plan.checks for result in _of_check(session, check, times)]


def _of_check(session: Session, check: Check, times: dict[tuple[str, Position], timedelta]) -> list[Result]:
    places: dict[Position, list[Position]] = {}
    for position in session.places(check.name):
        places.setdefault(check.item(position), []).append(position)
    bores = bores_for_gaps(session, check)
    found = []
    for item, positions in places.items():
        target = check.targets.get(item)
        if target is not None and bores:
            target = measured_target(session.plan, check, positions[0], bores)
        spent = [times[check.name, position] for position in positions if (check.name, position) in times]
        found.append(
            Result(
                check=check,
                item=item,
                target=target,
                entries=tuple((position, session.current(check.name, position)) for position in positions),
                tries=sum(len(session.standing(check.name, position)) for position in positions),
                work=sum(spent, timedelta()) if spent else None,
                together=_together(session, check, positions),
                to_hand=shims_to_hand(session, check, item),
                certainty=certainty_of(session.plan, check, positions[0]),
            )
        )
    return found


def _together(session: Session, check: Check, positions: Sequence[Position]) -> bool:
    """Return whether the readings of an item's parts belong together; true while some are missing."""
    if not check.parts or any(session.current(check.name, position) is None for position in positions):
        return True
    if any(position not in check.positions for position in positions):
        return True  # an item of an earlier plan: how its parts were read is unknown
    figures = [figure_of(session.current(check.name, position)) for position in positions]
    if any(figure is None for figure in figures):
        return True
    return len(part_figures(session, check, positions[0])) == len(check.read_parts)


def work_times(session: Session, events: Iterable[Event]) -> dict[tuple[str, Position], timedelta]:
    """Return the working time at each place: for every entry there, the time since the previous entry.

    The time from "stand by" to "go ahead", and while the program was closed, is a break and doesn't
    count. A step back of the clock counts as zero.
    """
    places = {entry.event.id: (entry.check, entry.position) for entry in session.log()}
    spent: dict[tuple[str, Position], timedelta] = {}
    waiting = timedelta()
    before: datetime | None = None
    for event in events:
        if before is not None and event.kind not in (Kind.GO_AHEAD, Kind.RESUMED, Kind.OPENED):
            waiting += max(event.at - before, timedelta())
        before = event.at
        place = places.get(event.id)
        if place is not None:
            spent[place] = spent.get(place, timedelta()) + waiting
            waiting = timedelta()
    return spent
