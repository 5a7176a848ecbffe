"""The English number words, once for those who hear them and those who say them."""

from __future__ import annotations

SMALL = (
    *("zero", "one", "two", "three", "four", "five", "six", "seven", "eight", "nine", "ten"),
    *("eleven", "twelve", "thirteen", "fourteen", "fifteen", "sixteen", "seventeen", "eighteen", "nineteen"),
)
"""From 0 to 19, each at its own place."""

TENS = ("zero", "ten", "twenty", "thirty", "forty", "fifty", "sixty", "seventy", "eighty", "ninety")
"""Of 0, 10, 20 ... 90, each at the place of its tens."""
