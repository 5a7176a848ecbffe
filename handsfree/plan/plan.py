"""The whole plan: the engine, its checks, and the text that it was read from.

The cautions of the trade, and where each belongs.
"""

from __future__ import annotations

import hashlib
import tomllib
from collections.abc import Mapping
from dataclasses import dataclass, field
from enum import StrEnum
from functools import cache
from importlib.resources import files

from handsfree.errors import PlanError, did_you_mean
from handsfree.length import Length
from handsfree.plan.assumptions import Acceptance, Hot, Instrument
from handsfree.plan.check import Check, Rule


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
