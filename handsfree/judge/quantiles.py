"""Quantiles of Student's and of the chi-square distribution, for whole degrees of freedom.

They are three functions of a library of 140 MB, which the program therefore doesn't need; its tests hold them
against that library (`tests/outside/test_judge_quantiles.py`).
"""

from __future__ import annotations

import math
from collections.abc import Callable
from functools import cache


@cache
def student_quantile(probability: float, freedom: int) -> float:
    """Return the quantile of Student's distribution.

    Args:
        probability: above 0 and below 1.
        freedom: degrees of freedom, 1 or more.

    Source: the distribution as a finite sum, Abramowitz and Stegun 26.7.3 and 26.7.4, from memory.

    >>> round(student_quantile(0.95, 3), 4)
    2.3534
    """
    if probability < 0.5:
        return -student_quantile(1 - probability, freedom)
    return _root(lambda t: (1 + _between(t, freedom)) / 2, probability)


@cache
def chi_square_quantile(probability: float, freedom: int) -> float:
    """Return the quantile of the chi-square distribution; arguments as for `student_quantile`.

    Source: the series of the incomplete gamma function, Abramowitz and Stegun 6.5.29, from memory.

    >>> round(chi_square_quantile(0.975, 9), 4)
    19.0228
    """
    return _root(lambda x: _below(x, freedom), probability)


def _between(t: float, freedom: int) -> float:
    """Return the probability of Student's distribution from -t to t."""
    angle = math.atan(t / math.sqrt(freedom))
    sine, cosine = math.sin(angle), math.cos(angle)
    odd = freedom % 2
    term = cosine if odd else 1.0
    total = 0.0
    for factor in range(1 + odd, freedom, 2):
        total += term
        term *= cosine * cosine * factor / (factor + 1)
    return 2 / math.pi * (angle + sine * total) if odd else sine * total


def _below(x: float, freedom: int) -> float:
    """Return the probability of the chi-square distribution up to x."""
    shape, half = freedom / 2, x / 2
    if half <= 0:
        return 0.0
    term = math.exp(shape * math.log(half) - half - math.lgamma(shape + 1))
    total = 0.0
    while term > total * 1e-17:
        total += term
        shape += 1
        term *= half / shape
    return total


def _root(rising: Callable[[float], float], wanted: float) -> float:
    """Return the positive argument at which a rising function reaches a value, by halving."""
    low, high = 0.0, 1.0
    while rising(high) < wanted:
        low, high = high, 2 * high
    while low < (middle := (low + high) / 2) < high:
        low, high = (middle, high) if rising(middle) < wanted else (low, middle)
    return high
