"""The whole plan: the engine, its checks, and the text that it was read from.

The cautions of the trade, and where each belongs. The differences between two plans in words.
"""

from __future__ import annotations

import difflib
import hashlib
import tomllib
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field, fields
from enum import StrEnum
from functools import cache
from importlib.resources import files

from handsfree.errors import PlanError, did_you_mean
from handsfree.length import Length
from handsfree.plan.assumptions import Acceptance, Hot, Instrument
from handsfree.plan.check import Check, Position, Rule
from handsfree.plan.target import Target


class SecondRing(StrEnum):
    """Whether the second ring's gap must be at least, or at most, the top ring's.

    Builders differ [common practice, no source], so it is a setting.
    """

    WIDER = "wider"
    NARROWER = "narrower"
    FREE = "free"


@dataclass(frozen=True, slots=True)
class Engine:
    """The engine on the bench; as text it is its name.

    bore: the bore of every cylinder that is not in `bores`. bores: by cylinder label.
    duty: its use, which determines the usual factors.
    """

    name: str
    bore: Length | None = None
    bores: Mapping[str, Length] = field(default_factory=dict, hash=False)
    duty: str | None = None
    second_ring: SecondRing = SecondRing.FREE

    def bore_of(self, cylinder: str | None) -> Length | None:
        """Return the bore of a cylinder, or None if the plan doesn't state it."""
        return self.bores.get(cylinder, self.bore) if cylinder is not None else self.bore

    def __str__(self) -> str:
        return self.name


@dataclass(frozen=True, slots=True)
class Plan:
    """The measurements to make and their targets. `text` is the exact source, which the journal keeps.

    leaves: the feeler leaves in the drawer, thinnest first. risk: acceptable probability of going over, for
    advice on filing. hot: assumptions for the estimate of the gap in a running engine.
    """

    name: str
    engine: Engine
    checks: tuple[Check, ...]
    text: str = field(repr=False)
    acceptance: Acceptance = Acceptance.SIMPLE
    confidence: float = 0.95
    instruments: tuple[Instrument, ...] = ()
    leaves: tuple[Length, ...] = ()
    risk: float = 0.05
    hot: Hot | None = None

    @property
    def digest(self) -> str:
        """SHA-256 of the source text in UTF-8, as hexadecimal digits."""
        return hashlib.sha256(self.text.encode()).hexdigest()

    def check(self, name: str) -> Check:
        """Return the check of that name.

        Raises:
            PlanError: the plan has none; the sentence names the nearest.
        """
        for check in self.checks:
            if check.name == name:
                return check
        names = [check.name for check in self.checks]
        raise PlanError(f'the plan "{self.name}" has no check "{name}"; {did_you_mean(name, names)}')


@dataclass(frozen=True, slots=True)
class Caution:
    """One caution. first, more: for the display, the card and the sheet.

    aloud: the same as short as it can be spoken; empty where it is only shown.
    rules: the checks that it belongs to; empty for every sheet.
    """

    name: str
    first: str
    more: str
    rules: frozenset[Rule]
    aloud: str = ""

    @property
    def whole(self) -> str:
        """All of it, for display and paper."""
        return f"{self.first} {self.more}"


@cache
def cautions() -> tuple[Caution, ...]:
    """Return all cautions, from ``cautions.toml`` beside this module."""
    text = (files("handsfree.plan") / "cautions.toml").read_text("utf-8")
    return tuple(
        Caution(
            entry["name"],
            entry["first"],
            entry["more"],
            frozenset(Rule(rule) for rule in entry["rules"]),
            entry.get("aloud", ""),
        )
        for entry in tomllib.loads(text)["caution"]
    )


def cautions_for(work: Plan | Check) -> tuple[Caution, ...]:
    """Return the cautions of a check, to be told when it begins, or of a whole plan, for its sheet.

    For a plan these are the general ones and those of each of its checks, once each.
    """
    if isinstance(work, Check):
        return tuple(caution for caution in cautions() if work.rule in caution.rules)
    rules = {check.rule for check in work.checks}
    return tuple(caution for caution in cautions() if not caution.rules or caution.rules & rules)


_LINES = 6  # of a difference in the text
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
