"""Word durations of a voice, as known to a listener who has heard it for a while."""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass

import numpy as np

_LETTER_S = 0.07  # for words that were never heard
_SPREAD_AT_LEAST = 0.025  # to which a recording lets one tell where a sentence begins and ends
_HOLD = 0.3  # how strongly rare words are held to their letters


@dataclass(frozen=True, slots=True)
class Rhythm:
    """Seconds for each word and for what every sentence has besides, and how far a sentence strays.

    spread: standard deviation of the logarithm of a sentence's length over what is expected.
    """

    sentence_s: float
    words_s: Mapping[str, float]
    spread: float

    def expected_s(self, words: Sequence[str]) -> float:
        """Return the seconds that words should take."""
        return max(
            0.1, self.sentence_s + sum(self.words_s.get(each, _letters_s(each)) for each in _parts(words))
        )

    def logp(self, words: Sequence[str], spoken_s: float) -> float:
        """Return the log-probability that words take so long, up to a constant."""
        return -0.5 * (math.log(spoken_s / self.expected_s(words)) / self.spread) ** 2


def learned(heard: Iterable[tuple[Sequence[str], float]]) -> Rhythm:
    """Work a rhythm out from sentences and their seconds, by least squares."""
    sentences = [(_parts(words), seconds) for words, seconds in heard]
    names = sorted({part for parts, _ in sentences for part in parts})
    counts = np.array([[1.0, *(parts.count(name) for name in names)] for parts, _ in sentences])
    usual = np.array([0.0, *map(_letters_s, names)])
    seconds = np.array([each for _, each in sentences])
    hold = np.diag([0.0, *[_HOLD] * len(names)])
    moved = np.linalg.solve(counts.T @ counts + hold, counts.T @ (seconds - counts @ usual))
    sentence_s, *words_s = (usual + moved).tolist()
    made = Rhythm(sentence_s, dict(zip(names, words_s, strict=True)), 1.0)
    strays = [math.log(each / made.expected_s(parts)) for parts, each in sentences]
    return Rhythm(made.sentence_s, made.words_s, max(_SPREAD_AT_LEAST, float(np.std(strays))))


def _parts(words: Sequence[str]) -> list[str]:
    """Mark the words that the voice pauses before: in "forty, and a half" and in "eight top"."""
    before = ("", *words)
    return [f", {word}" if _pauses(last, word) else word for last, word in zip(before, words, strict=False)]


def _pauses(last: str, word: str) -> bool:
    return (word == "and" and last.endswith(("ty", "teen"))) or (last, word) == ("eight", "top")


def _letters_s(word: str) -> float:
    return _LETTER_S * len(word)
