"""Recordings one after another, as one stream of sound, and which of them an utterance belongs to."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Generic, TypeVar

import numpy as np

from handsfree.hear import SAMPLERATE_HZ, Samples, Utterance

What = TypeVar("What")

BEFORE_S = 5.0
BETWEEN_S = (2.0, 4.0)
IN_A_ROW = 12
_SPREAD_S = 0.2


@dataclass(frozen=True, eq=False)
class Placed(Generic[What]):
    """A phrase, and the time of its recording in the stream, in seconds."""

    what: What
    start_s: float
    end_s: float


@dataclass(frozen=True, eq=False)
class Stream(Generic[What]):
    """Recordings with silence before and between them: (n,) int16 at 16 kHz."""

    samples: Samples
    placed: tuple[Placed[What], ...]

    def sorted_out(self, found: Sequence[Utterance]) -> tuple[list[list[Utterance]], list[Utterance]]:
        """Return the utterances of each recording, and those that belong to none.

        One that holds more than one recording is counted with the first of them.
        """
        theirs: list[list[Utterance]] = [[] for _ in self.placed]
        strays: list[Utterance] = []
        for utterance in found:
            over = (
                mine
                for mine, place in zip(theirs, self.placed, strict=True)
                if utterance.start_s < place.end_s - _SPREAD_S and utterance.end_s > place.start_s + _SPREAD_S
            )
            next(over, strays).append(utterance)
        return theirs, strays


def streams(said: Sequence[tuple[What, Samples]], seed: int = 1) -> Iterator[Stream[What]]:
    """Put twelve recordings in a row, in any order, and the next twelve, until all are used.

    said: what is said in each, and its sound, (n,) int16 at 16 kHz.
    """
    rng = np.random.default_rng(seed)
    shuffled = [said[index] for index in rng.permutation(len(said))]
    for first in range(0, len(shuffled), IN_A_ROW):
        pieces = [np.zeros(int(BEFORE_S * SAMPLERATE_HZ), np.int16)]
        placed = []
        for what, sound in shuffled[first : first + IN_A_ROW]:
            start_s = sum(map(len, pieces)) / SAMPLERATE_HZ
            placed.append(Placed(what, start_s, start_s + len(sound) / SAMPLERATE_HZ))
            pieces += [sound, np.zeros(int(rng.uniform(*BETWEEN_S) * SAMPLERATE_HZ), np.int16)]
        yield Stream(np.concatenate(pieces), tuple(placed))
