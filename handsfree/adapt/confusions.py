"""Confused words, from an alignment of spoken and heard words. Pure."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from handsfree.adapt.spellings import likeness

Pair = tuple[str | None, str | None]

_TIE = 0.001  # breaks ties; too small to outweigh a difference in any phrase


@dataclass(frozen=True, slots=True)
class Confusion:
    """A spoken word and the heard one: None on one side for a deletion or an insertion."""

    said: str | None
    heard: str | None
    times: int

    def __str__(self) -> str:
        """Return it as a phrase for people.

        >>> str(Confusion("fifteen", "fifty", 2))
        'fifteen was heard as fifty (2 times)'
        """
        often = f" ({self.times} times)" if self.times > 1 else ""
        if self.said is None:
            return f"{self.heard} was heard where nothing was said{often}"
        if self.heard is None:
            return f"{self.said} was not heard{often}"
        return f"{self.said} was heard as {self.heard}{often}"


def aligned(said: Sequence[str], heard: Sequence[str]) -> list[Pair]:
    """Return the alignment of two phrases with the fewest differences (Levenshtein distance over words).

    Among equal alignments, similar words are paired.

    >>> aligned("three top fifteen thou".split(), "tree top fifty".split())
    [('three', 'tree'), ('top', 'top'), ('fifteen', 'fifty'), ('thou', None)]
    """
    rows, columns = len(said), len(heard)
    costs = [[float(i + j) if not i or not j else 0.0 for j in range(columns + 1)] for i in range(rows + 1)]
    for i in range(1, rows + 1):
        for j in range(1, columns + 1):
            paired = costs[i - 1][j - 1] + _unlike(said[i - 1], heard[j - 1])
            costs[i][j] = min(paired, costs[i - 1][j] + 1, costs[i][j - 1] + 1)
    pairs: list[Pair] = []
    i, j = rows, columns
    while i or j:
        if i and j and costs[i][j] == costs[i - 1][j - 1] + _unlike(said[i - 1], heard[j - 1]):
            pairs.append((said[i - 1], heard[j - 1]))
            i, j = i - 1, j - 1
        elif i and costs[i][j] == costs[i - 1][j] + 1:
            pairs.append((said[i - 1], None))
            i -= 1
        else:
            pairs.append((None, heard[j - 1]))
            j -= 1
    return pairs[::-1]


def _unlike(one: str, other: str) -> float:
    """Return the cost of pairing two words: one, plus a little more the less similar they are."""
    return 0.0 if one == other else 1 + _TIE * (1 - likeness(one, other))


def confusions(phrases: Iterable[tuple[Sequence[str], Sequence[str]]]) -> list[Confusion]:
    """Return the confusions in pairs of spoken and heard phrases, most frequent first."""
    counts: Counter[Pair] = Counter()
    for said, heard in phrases:
        counts.update(pair for pair in aligned(said, heard) if pair[0] != pair[1])
    return [Confusion(*pair, times) for pair, times in counts.most_common()]
