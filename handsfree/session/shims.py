"""Reuse of shims: a shim out of one place may go into another, if the plan allows it.

Pure: computed from the session each time, so that a void or a correction takes effect here too.
"""

from __future__ import annotations

from dataclasses import dataclass

from handsfree.judge import Joint, State, judge_joint, judge_lash
from handsfree.length import Length
from handsfree.plan import Check, Position
from handsfree.session.current import figure_of, is_doubted, part_figures
from handsfree.session.session import Session


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
