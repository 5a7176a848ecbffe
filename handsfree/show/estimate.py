"""How much longer: an honest range, or nothing while it is too early to say."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime, timedelta
from itertools import pairwise
from statistics import quantiles

_FEWEST = 4  # positions, before anything can be said
_BREAK = timedelta(minutes=15)  # a longer gap was a break and not work (common practice, no source)


def time_left(finished: Sequence[datetime], still_open: int) -> tuple[timedelta, timedelta] | None:
    """Give the time that the open positions will take, from the quick and the slow of those done.

    Args:
        finished: when each position was finished, in order.
        still_open: how many are left.

    Returns:
        The range if each takes as long as the lower and as the upper quartile of those done, or
        None where too few are done, or nothing is left.
    """
    gaps = [later - before for before, later in pairwise(finished)]
    worked = [gap.total_seconds() for gap in gaps if gap <= _BREAK]
    if still_open == 0 or len(worked) < _FEWEST - 1:
        return None
    low, _, high = quantiles(worked, n=4, method="inclusive")
    return timedelta(seconds=low * still_open), timedelta(seconds=high * still_open)


def estimate_words(left: tuple[timedelta, timedelta] | None) -> str:
    """Say a range in minutes, coarser the longer it is; empty for None.

    >>> estimate_words((timedelta(minutes=21), timedelta(minutes=38)))
    '20 to 40 min left'
    >>> estimate_words((timedelta(seconds=30), timedelta(seconds=50)))
    '1 min left'
    """
    if left is None:
        return ""
    low, high = (each.total_seconds() / 60 for each in left)
    step = 1 if high < 10 else 5 if high < 60 else 10
    lower, upper = (max(1, round(each / step) * step) for each in (low, high))
    return f"{lower} min left" if lower == upper else f"{lower} to {upper} min left"
