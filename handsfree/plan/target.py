"""What a position is to become: the aim, the two limits, and how they were come by."""

from __future__ import annotations

from dataclasses import dataclass

from handsfree.length import Length


@dataclass(frozen=True, slots=True)
class Target:
    """The figure that is aimed at, and the limits, which both still count as inside.

    Each length keeps the unit in which it was given. `derivation` says in words where the aim
    comes from ("given", "the maker's figure", "bore 4.030 in times 0.0045 ...").
    """

    aim: Length
    lower: Length
    upper: Length
    derivation: str = "given"

    def __str__(self) -> str:
        return f"{self.aim} (from {self.lower} to {self.upper})"
