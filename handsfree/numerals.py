"""The English number words, shared by hearing and speaking."""

from __future__ import annotations

SMALL = (
    *("zero", "one", "two", "three", "four", "five", "six", "seven", "eight", "nine", "ten"),
    *("eleven", "twelve", "thirteen", "fourteen", "fifteen", "sixteen", "seventeen", "eighteen", "nineteen"),
)
"""Words from 0 to 19, each at its own index."""

TENS = ("zero", "ten", "twenty", "thirty", "forty", "fifty", "sixty", "seventy", "eighty", "ninety")
"""Words of 0, 10, 20 ... 90, each at the index of its tens."""
