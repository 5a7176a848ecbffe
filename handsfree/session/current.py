"""The standing readings of a session as `handsfree.judge` needs them: bounds, figures, passes, states.

Pure: computed from the session each time, so that a void or a correction takes effect here too.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import UTC, datetime

from handsfree.journal import Draft, Event, LeafSide
from handsfree.judge import MOST_READINGS, Bounds, FiledPass, State, judge_direct, judge_joint
from handsfree.length import Length
from handsfree.plan import Check, Position, Rule, Target, measured_target
from handsfree.session.fold import step
from handsfree.session.session import Entry, Session

DOUBT = "doubt"
"""Key in an entry's data: it disagreed with the readings before it."""

_OUTSIDE = (State.SHORT, State.OVER)
_NEVER = datetime(1, 1, 1, tzinfo=UTC)


def with_draft(session: Session, draft: Draft) -> Session:
    """Return the session as it will be once `draft` is in the journal."""
    return step(session, Event("", session.count + 1, _NEVER, 0, "", draft))


def bounds_of(entry: Entry) -> Bounds | None:
    """Return an entry's bounds on the size; None for a tick."""
    draft = entry.event.draft
    if draft.value is None:
        return None
    if draft.other is not None:
        return Bounds(draft.value, draft.other, below_high=True)
    match draft.bound:
        case LeafSide.UNDER:
            return Bounds.under(draft.value)
        case LeafSide.OVER:
            return Bounds.over(draft.value)
        case None:
            return Bounds.exactly(draft.value)


def figure_of(entry: Entry | None) -> Length | None:
    """Return the measured figure of an entry; None for a bound, a tick or no entry."""
    return None if entry is None or entry.bound is not None else entry.value


def is_doubted(entry: Entry) -> bool:
    """Return whether an entry disagreed with the readings before it when it was logged."""
    return DOUBT in entry.event.draft.data


def known_bounds(session: Session, check: Check, place: Position, seen: Bounds) -> Bounds:
    """Combine a leaf with earlier leaves on the same part: go 18 and no go 19 bound the gap on both sides.

    A filed gap only grows. So a lower bound stays valid; an upper bound is valid only until the ring is
    filed. Nothing was filed if no leaf since showed the gap short and no turns were logged. A ring that
    was over is replaced, and a part that isn't filed is set again when it is outside its limits: earlier
    bounds are then void. Contradictory leaves give bounds that no size satisfies; the next leaf starts
    afresh.
    """
    if seen.is_exact:
        return seen
    turned = [turn.number for turn in session.turns.get((check.name, place), ())]
    filed = False
    for entry in reversed(session.standing(check.name, place)):
        known, verdict = bounds_of(entry), entry.verdict
        outside = (State.OVER,) if check.rule is Rule.FILE_TO_GAP else _OUTSIDE
        if known is None or known.is_exact or verdict in (*outside, State.UNCERTAIN):
            break
        filed = filed or verdict is State.SHORT or any(number > entry.measured for number in turned)
        seen = seen.meet(Bounds(known.low, None) if filed else known)
        if not seen.is_possible:
            break
    return seen


def figures(session: Session, check: str) -> dict[Position, Length]:
    """Return the current figures of a check by position."""
    found = {}
    for position, entry in session.results(check).items():
        figure = figure_of(entry)
        if figure is not None:
            found[position] = figure
    return found


def bores_for_gaps(session: Session, check: Check) -> Mapping[Position, Length]:
    """Return the measured bores, if a check of gaps takes its targets from them."""
    return {} if check.bores_from is None else figures(session, check.bores_from)


def target_at(session: Session, check: Check, position: Position) -> Target:
    """Return the target of a position, from its measured bore where the plan says so.

    Raises:
        KeyError: the check has no such position, or is one to tick.
    """
    return measured_target(session.plan, check, position, bores_for_gaps(session, check))


def part_figures(session: Session, check: Check, position: Position) -> dict[Position, Length]:
    """Return the figures of an item's parts that belong together.

    A figure in doubt is left out, and so is a part with only a bound. A shim is changed once its lash
    was found wrong, so neither the old shim nor the old lash is combined with later readings.
    """
    item = check.item(position)
    places = [check.at_part(item, part.name) for part in check.read_parts]
    entries = [entry for place in places for entry in session.standing(check.name, place)]
    together: dict[Position, Length] = {}
    for entry in sorted(entries, key=lambda entry: (entry.measured, entry.number)):
        if check.rule is Rule.SHIM and len(together) == len(places):
            verdict = judge_joint(session.plan, check, item, together).verdict
            if verdict is not None and verdict.state in (State.SHORT, State.OVER):
                together = {}
        figure = figure_of(entry)
        if figure is None or is_doubted(entry):
            together.pop(entry.position, None)
        else:
            together[entry.position] = figure
    return together


def state_at(
    session: Session, check: Check, position: Position, bores: Mapping[Position, Length] | None = None
) -> State | None:
    """Return the state of a position, or None if no reading there counts.

    A part that was read while others are missing counts as good, and so does a tick that is done. A gap
    is judged again if its bore was measured after it.

    Args:
        session: the session.
        check: one of its plan's checks.
        position: a position of it.
        bores: from `bores_for_gaps`, if the caller has them.
    """
    entry = session.current(check.name, position)
    if entry is None:
        return None
    if entry.done is not None:
        return State.GOOD if entry.done else None
    if is_doubted(entry):
        return State.UNCERTAIN
    if position not in check.targets and not check.parts:
        return None
    if check.parts:
        return _state_of_part(session, check, position, entry)
    seen, verdict = bounds_of(entry), entry.verdict
    contradicts = verdict is State.UNCERTAIN and entry.bound is not None
    if check.bores_from is not None and seen is not None and not contradicts:
        bounds = known_bounds(session, check, position, seen)
        bores = bores_for_gaps(session, check) if bores is None else bores
        target = measured_target(session.plan, check, position, bores)
        return judge_direct(session.plan, check, position, bounds, target).state
    return verdict


def _state_of_part(session: Session, check: Check, position: Position, entry: Entry) -> State | None:
    together = part_figures(session, check, position)
    if position not in together:
        return State.OPEN if entry.bound is not None else None
    verdict = judge_joint(session.plan, check, position, together).verdict
    return State.GOOD if verdict is None else verdict.state


def states(session: Session, check: Check) -> dict[Position, State]:
    """Return the states of a check's positions; those without one are left out."""
    bores = bores_for_gaps(session, check)
    found = {position: state_at(session, check, position, bores) for position in check.positions}
    return {position: state for position, state in found.items() if state is not None}


def filed_passes(session: Session, check: Check) -> list[FiledPass]:
    """Return every pair of figures of one ring with turns of the filer between them.

    Left out: leaves, which give no figure; passes in which the wheel was dressed; readings in
    doubt; and the pair after a ring that was over, since the next reading is of another ring.
    """
    found = []
    for name, position in session.turns:
        if name != check.name:
            continue
        for one in session.passes(name, position):
            before, after = figure_of(one.before), figure_of(one.after)
            if before is None or after is None or one.dressed:
                continue
            if is_doubted(one.before) or is_doubted(one.after):
                continue
            if one.before.verdict is State.OVER:
                continue
            began, ended = one.before.measured, one.after.measured
            found.append(FiledPass(position, began, ended, one.turns, before, after))
    return found


def comparable(session: Session, check: Check, position: Position) -> list[Entry]:
    """Return the latest entries of a position with which the next reading should agree, oldest first.

    A reading outside its limits ends the series, since the part was then changed: a ring that was over is
    replaced, shells or shims are swapped. From a reading in doubt, only it and later ones count: so a
    repeated reading is believed.
    """
    ends = (State.OVER,) if check.rule is Rule.FILE_TO_GAP else _OUTSIDE
    if check.parts:
        item = check.item(position)
        beside = [check.at_part(item, part.name) for part in check.read_parts]
    else:
        beside = [position]
    recent = _recent(session.standing(check.name, position))
    if not recent:
        return []
    changed = max(_last_with(session, check, place, ends, recent[0].measured) for place in beside)
    since = [entry for entry in recent if entry.measured > changed]
    doubted = [number for number, entry in enumerate(since) if is_doubted(entry)]
    return since[doubted[-1] :] if doubted else since


def _recent(entries: Sequence[Entry]) -> list[Entry]:
    """Return the last entries with as many figures as are compared with the next one."""
    found: list[Entry] = []
    figures = 1  # the next one
    for entry in reversed(entries):
        if figures == MOST_READINGS:
            break
        found.append(entry)
        figures += figure_of(entry) is not None
    return found[::-1]


def _last_with(session: Session, check: Check, place: Position, verdicts: Sequence[State], since: int) -> int:
    """Return when an entry with one of these verdicts was last measured, if not before `since`; else 0."""
    for entry in reversed(session.standing(check.name, place)):
        if entry.measured < since:
            break
        if entry.verdict in verdicts:
            return entry.measured
    return 0
