"""Numbers among a command's options, each with its bounds."""

from __future__ import annotations

import argparse
import math
import re

from handsfree.preferences import FASTEST, SLOWEST

_MOST_COUNT = 1_000_000
_MOST_SEED = 2**32 - 1


def decibels(text: str) -> float:
    """Return a level in dB."""
    number = float(text)
    if not math.isfinite(number):
        raise argparse.ArgumentTypeError(f"{text} is no number of decibels")
    return number


def count(text: str) -> int:
    """Return a count of one or more."""
    return _within(text, 1, _MOST_COUNT)


def seed(text: str) -> int:
    """Return a seed of random numbers."""
    return _within(text, 0, _MOST_SEED)


def rate(text: str) -> int:
    """Return a rate of speech in words a minute."""
    return _within(text, SLOWEST, FASTEST)


def fraction(text: str) -> float:
    """Return a number from 0 to 1."""
    number = float(text)
    if not 0 <= number <= 1:  # nor is anything that isn't a number
        raise argparse.ArgumentTypeError(f"{text} isn't from 0 to 1")
    return number


def _within(text: str, least: int, most: int) -> int:
    if not re.fullmatch(r"\s*[+-]?[0-9]+\s*", text):
        raise argparse.ArgumentTypeError(f"{text} is no whole number")
    number = int(text) if len(text.strip()) <= len(str(most)) + 1 else most + 1
    if not least <= number <= most:
        raise argparse.ArgumentTypeError(f"{text} is no whole number from {least} to {most}")
    return number
