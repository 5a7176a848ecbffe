"""The cautions of the trade, kept as data so that a shop can read a change to them."""

from __future__ import annotations

import tomllib
from functools import cache
from importlib.resources import files


@cache
def cautions() -> tuple[str, ...]:
    """Every caution in order, whole.

    >>> cautions()[0].split(".")[0]
    'Wear eye protection for all filing, grinding and air-blow'
    """
    text = files("handsfree.show").joinpath("cautions.toml").read_text(encoding="utf-8")
    return tuple(entry["text"] for entry in tomllib.loads(text)["caution"])


def first_lines() -> tuple[str, ...]:
    """The first sentence of every caution: those that are spoken."""
    return tuple(caution.split(". ")[0].rstrip(".") + "." for caution in cautions())
