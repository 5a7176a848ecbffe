"""Sums of parts as they are written in a plan: ``housing - 2 shell - journal``."""

from __future__ import annotations

import re
from fractions import Fraction

from handsfree.plan.written import WrittenError

_TERM = re.compile(r"\s*([+-])?\s*(\d+(?:\.\d+)?(?:\s*/\s*\d+)?)?\s*\*?\s*([a-z]+(?: [a-z]+)*)\s*")


def parse_formula(text: str) -> dict[str, Fraction]:
    """Give what each part is multiplied by, in the order written.

    A multiplier is a whole number, a decimal or a fraction with a finite decimal, so that sums of
    readings stay exact.

    Raises:
        WrittenError: it is no such sum, names a part twice, or has a multiplier that can't be.

    >>> parse_formula("housing - 2 shell - journal")
    {'housing': Fraction(1, 1), 'shell': Fraction(-2, 1), 'journal': Fraction(-1, 1)}
    >>> parse_formula("1/2 front + 1/2 rear")["rear"]
    Fraction(1, 2)
    """
    terms: dict[str, Fraction] = {}
    at = 0
    while at < len(text):
        found = _TERM.match(text, at)
        if found is None or (terms and found[1] is None):
            raise WrittenError(f'"{text}" is no sum of parts; write it like "housing - 2 shell - journal"')
        sign, times, name = found.groups()
        if name in terms:
            raise WrittenError(f'the part "{name}" stands in it twice; write it once, with a multiplier')
        terms[name] = _times(times or "1", text) * (-1 if sign == "-" else 1)
        at = found.end()
    if not terms:
        raise WrittenError('the formula is empty; write it like "housing - journal"')
    return terms


def _times(written: str, text: str) -> Fraction:
    top, _, bottom = written.replace(" ", "").partition("/")
    if bottom and int(bottom) == 0:
        raise WrittenError(f'"{text}" divides by zero; mend the multiplier')
    value = Fraction(top) / int(bottom or 1)
    rest = value.denominator
    for prime in (2, 5):
        while rest % prime == 0:
            rest //= prime
    if value == 0 or rest != 1:
        raise WrittenError(f'the multiplier {written} in "{text}" has no finite decimal; use one that has')
    return value
