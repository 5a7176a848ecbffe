"""The cautions of the trade, and where each belongs."""

from __future__ import annotations

import tomllib
from dataclasses import dataclass
from functools import cache
from importlib.resources import files

from handsfree.plan.check import Check, Rule
from handsfree.plan.plan import Plan


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
    """Give all cautions, from ``cautions.toml`` beside this module."""
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

    For a plan these are the ones of every sheet and of each of its checks, once each.
    """
    if isinstance(work, Check):
        return tuple(caution for caution in cautions() if work.rule in caution.rules)
    rules = {check.rule for check in work.checks}
    return tuple(caution for caution in cautions() if not caution.rules or caution.rules & rules)
