"""The whole plan: the engine, its checks, and the text that it was read from."""

from __future__ import annotations

import hashlib
from collections.abc import Mapping
from dataclasses import dataclass, field

from handsfree.errors import PlanError
from handsfree.length import Length
from handsfree.plan.check import Check
from handsfree.plan.written import did_you_mean


@dataclass(frozen=True, slots=True)
class Engine:
    """What is on the bench; as text it is its name.

    bore: the bore of every cylinder that `bores` doesn't name. bores: by cylinder label.
    """

    name: str
    bore: Length | None = None
    bores: Mapping[str, Length] = field(default_factory=dict, hash=False)

    def bore_of(self, cylinder: str | None) -> Length | None:
        """Give the bore of a cylinder, or None where the plan doesn't say."""
        return self.bores.get(cylinder, self.bore) if cylinder is not None else self.bore

    def __str__(self) -> str:
        return self.name


@dataclass(frozen=True, slots=True)
class Plan:
    """What is to be measured and to what. `text` is the exact source, which the journal keeps."""

    name: str
    engine: Engine
    checks: tuple[Check, ...]
    text: str = field(repr=False)

    @property
    def digest(self) -> str:
        """SHA-256 of the source text in UTF-8, as hexadecimal digits."""
        return hashlib.sha256(self.text.encode()).hexdigest()

    def check(self, name: str) -> Check:
        """Give the check of that name.

        Raises:
            PlanError: the plan has none; the sentence names the nearest.
        """
        for check in self.checks:
            if check.name == name:
                return check
        names = [check.name for check in self.checks]
        raise PlanError(f'the plan "{self.name}" has no check "{name}"; {did_you_mean(name, names)}')
