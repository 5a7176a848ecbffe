"""The decision thresholds for one person, from the confidence of their recordings. Pure.

A wrong value costs as much as a hundred questions. So one wrong result among a person's recordings is enough
to ask more often. Asking less often needs proof that the additionally accepted results are wrong less than
once in a hundred: without a wrong one it takes some 380 recordings between the old threshold and the new one
until the upper end of the 95 % interval is below that. Twenty phrases never loosen a threshold.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace

from handsfree.recordings import wilson
from handsfree.understand import Thresholds

WRONG_COSTS = 100
"""Cost of a wrong value, in questions."""
STRICTEST_MARGIN, STRICTEST_FIT = 6.0, -0.1
"""Beyond this margin a fifth of the correct hearings in noise would be asked about. Beyond this fit the
fit tells nothing: 1 in 70 correct hearings is below it, and most wrong ones are not."""

_LOOSER_MARGINS = (1.0, 1.5, 2.0)
_LOOSER_FITS = (-1.2, -1.0, -0.8)
_ABOVE = 0.01


@dataclass(frozen=True, slots=True)
class Weighed:
    """The confidence of one recording's likeliest meaning, and whether that is right."""

    fit: float
    margin: float
    right: bool


def cost(weighed: Sequence[Weighed], limits: Thresholds) -> int:
    """Return the cost: one for a question, a hundred for a wrong value."""
    return sum(
        (0 if one.right else WRONG_COSTS) if _accepted(one, limits) else int(one.right) for one in weighed
    )


def limits_for(weighed: Sequence[Weighed], usual: Thresholds | None = None) -> Thresholds:
    """Return the cheapest thresholds on these recordings, at least as strict as the usual ones.

    They are looser only by the rule above. Of equally cheap thresholds those nearest to the usual ones win.
    """
    usual = usual or Thresholds()
    wrong = [one for one in weighed if not one.right and _accepted(one, usual)]
    if not wrong:
        return _looser(weighed, usual)
    margins = [usual.sure_margin, *_just_above((one.margin for one in wrong), STRICTEST_MARGIN)]
    fits = [usual.sure_fit, *_just_above((one.fit for one in wrong), STRICTEST_FIT)]
    choices = [replace(usual, sure_fit=fit, sure_margin=margin) for fit in fits for margin in margins]
    return min(choices, key=lambda limits: (cost(weighed, limits), limits.sure_margin, limits.sure_fit))


def _looser(weighed: Sequence[Weighed], usual: Thresholds) -> Thresholds:
    for margin in _LOOSER_MARGINS:
        if _proven(weighed, usual, replace(usual, sure_margin=margin)):
            usual = replace(usual, sure_margin=margin)
            break
    for fit in _LOOSER_FITS:
        if _proven(weighed, usual, replace(usual, sure_fit=fit)):
            return replace(usual, sure_fit=fit)
    return usual


def _proven(weighed: Sequence[Weighed], usual: Thresholds, looser: Thresholds) -> bool:
    """Return whether the additionally accepted results are wrong less than once in a hundred, at 95 %."""
    between = [one for one in weighed if _accepted(one, looser) and not _accepted(one, usual)]
    _, most = wilson(sum(not one.right for one in between), len(between))
    return most < 1 / WRONG_COSTS


def _just_above(numbers: Iterable[float], most: float) -> list[float]:
    return sorted({round(n + _ABOVE, 2) for n in numbers if n + _ABOVE <= most})


def _accepted(one: Weighed, limits: Thresholds) -> bool:
    return one.fit >= limits.sure_fit and one.margin >= limits.sure_margin
