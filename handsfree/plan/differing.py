"""The differences between two plans in words, to show a person the edits."""

from __future__ import annotations

import difflib
from collections.abc import Iterator
from dataclasses import fields

from handsfree.plan.check import Check, Position
from handsfree.plan.plan import Engine, Plan
from handsfree.plan.target import Target

_LINES = 6
_TOLD_APART = {"checks", "text", "targets", "recipes", "positions", "items", "windows", "axes"}


def differences(old: Plan, new: Plan) -> list[str]:
    """Return the differences, one phrase each, targets first; empty only if the texts are identical.

    A difference in the text alone, such as a comment, is reported by its lines.
    """
    found = [*_targets(old, new), *_others(old, new, "")]
    return found or list(_lines(old.text, new.text))


def _targets(old: Plan, new: Plan) -> Iterator[str]:
    before, after = ({check.name: check for check in plan.checks} for plan in (old, new))
    yield from (f'the check "{name}" is no longer there' for name in before if name not in after)
    yield from (f'the check "{name}" is new' for name in after if name not in before)
    for name in before:
        if name in after:
            yield from _of_check(before[name], after[name])


def _of_check(old: Check, new: Check) -> Iterator[str]:
    was, now = set(old.positions), set(new.positions)
    yield from (f"{old.name}, {place.key} is no longer there" for place in old.positions if place not in now)
    yield from (f"{new.name}, {place.key} is new" for place in new.positions if place not in was)
    changed: dict[str, list[Position]] = {}
    for item in new.items:
        before, after = old.targets.get(item), new.targets.get(item)
        if item in old.items and _figures(before) != _figures(after):
            changed.setdefault(f"{_told(before)}, now {_told(after)}", []).append(item)
    for told, items in changed.items():
        every = len(items) > 1 and len(items) == len(new.items)
        where = "everywhere" if every else " and ".join(item.key for item in items)
        yield f"the target of {new.name}, {where}: {told}"
    if old.positions != new.positions and was == now:
        yield f"the order of {new.name}"
    yield from _others(old, new, f" of {new.name}")


def _figures(target: Target | None) -> tuple[object, ...] | None:
    return None if target is None else (target.lower, target.aim, target.upper)


def _told(target: Target | None) -> str:
    return "none" if target is None else str(target)


def _others(old: Plan | Check | Engine, new: Plan | Check | Engine, of: str) -> Iterator[str]:
    """Compare the remaining fields."""
    for one in fields(old):
        before, after = getattr(old, one.name), getattr(new, one.name)
        if isinstance(before, Engine) and isinstance(after, Engine):
            yield from _others(before, after, " of the engine")
        elif one.name not in _TOLD_APART and before != after:
            name = one.name.replace("_", " ")
            yield f"{name}{of}: {_short(before)}, now {_short(after)}"


def _short(value: object) -> str:
    match value:
        case None:
            return "none"
        case str() | int() | float():
            return str(value)
        case tuple() if all(isinstance(one, str) or hasattr(one, "unit") for one in value):
            return ", ".join(map(str, value)) or "none"
        case _:
            told = str(value)
            return told if len(told) <= 60 else "otherwise"


def _lines(old: str, new: str) -> Iterator[str]:
    diff = [
        line
        for line in difflib.unified_diff(old.splitlines(), new.splitlines(), lineterm="", n=0)
        if line[:3] not in ("---", "+++") and line[:1] in "+-"
    ]
    for line in diff[:_LINES]:
        yield f'{"without" if line[0] == "-" else "with"} the line "{line[1:].strip()}"'
    if len(diff) > _LINES:
        yield f"{len(diff) - _LINES} lines more"
    if old != new and not diff:
        yield "only in white space"
