"""Readings against their limits, as fractions of a drawing's width."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from fractions import Fraction

from handsfree.length import Length, Unit
from handsfree.plan import Target
from handsfree.session import Result

_WIDEST = 3  # the drawing shows at most this many widths of the limits on either side
_MARGIN = Fraction(1, 8)


@dataclass(frozen=True, slots=True)
class Scale:
    """The drawing's ends, as exact millimetres from the aim; labels are in `unit`."""

    left: Fraction
    right: Fraction
    unit: Unit

    def place(self, mm: Fraction) -> float:
        """Return a deviation's place in the drawing: 0 at the left end, 1 at the right."""
        return round(float((mm - self.left) / (self.right - self.left)), 4)


def scale_of(unit: Unit, found: Iterable[Result]) -> Scale | None:
    """Return a scale that covers the limits of all these results, and their readings unless far outside."""
    aimed = [(result.target, result.against_limits) for result in found if result.target is not None]
    if not aimed:
        return None
    low = min(target.lower.mm - target.aim.mm for target, _ in aimed)
    high = max(target.upper.mm - target.aim.mm for target, _ in aimed)
    width = (high - low) or Fraction(1, 100)
    deviations = [figure.mm - target.aim.mm for target, figure in aimed if figure is not None]
    left = max(min([low, *deviations]), low - _WIDEST * width)
    right = min(max([high, *deviations]), high + _WIDEST * width)
    margin = (right - left or width) * _MARGIN
    return Scale(left - margin, right + margin, unit)


def drawing(result: Result, scale: Scale | None) -> dict[str, object]:
    """Return the drawing of one result: its limits, its aim, and the reading as a mark or a bar."""
    target = result.target
    if target is None or scale is None:
        return {"limits": None, "aim": None, "kind": "nothing", "at": []}
    aim = target.aim.mm
    limits = [scale.place(target.lower.mm - aim), scale.place(target.upper.mm - aim)]
    drawn: dict[str, object] = {
        "limits": limits,
        "aim": scale.place(Fraction(0)),
        "kind": "nothing",
        "at": [],
    }
    if result.against_limits is not None:
        return {**drawn, **_mark(result.against_limits, target, scale)}
    return {**drawn, **_bar(result, target, scale)}


def _mark(figure: Length, target: Target, scale: Scale) -> dict[str, object]:
    at = scale.place(figure.mm - target.aim.mm)
    if at < 0:
        return {"kind": "left", "at": []}
    if at > 1:
        return {"kind": "right", "at": []}
    inside = target.lower.mm <= figure.mm <= target.upper.mm
    return {"kind": "inside" if inside else "outside", "at": [at]}


def _bar(result: Result, target: Target, scale: Scale) -> dict[str, object]:
    """Return the bar of a bound, or of two leaves between which the gap lies."""
    entry = result.last
    if entry is None or entry.value is None or entry.bound is None:
        return {}
    ends = [entry.value, entry.event.draft.other]
    places = sorted(_clamped(scale.place(end.mm - target.aim.mm)) for end in ends if end is not None)
    match places:
        case [one]:
            return {"kind": "span", "at": [0.0, one] if entry.bound == "under" else [one, 1.0]}
        case _:
            return {"kind": "span", "at": places}


def _clamped(place: float) -> float:
    return min(max(place, 0.0), 1.0)
