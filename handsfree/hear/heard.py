"""What goes into a recogniser and what comes out of it."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Protocol, runtime_checkable

import numpy as np
from numpy.typing import NDArray

if TYPE_CHECKING:
    from handsfree.understand import Replies

SAMPLERATE_HZ = 16_000

Samples = NDArray[np.int16]

Wanted = Callable[[], bool]
"""Says whether the words of an utterance are wanted still."""


def always() -> bool:
    """Say yes: words that are wanted whatever happens."""
    return True


class NoLongerWantedError(Exception):
    """Decoding was given up, since nobody waits for its words any more: speech went on, say."""


@dataclass(frozen=True, slots=True, eq=False)
class Utterance:
    """Speech cut out of a stream.

    samples: (n,) int16, 16 kHz mono. `start_s` and `end_s` say when speech began and ended,
    counted from the start of its source.
    """

    samples: Samples
    start_s: float
    end_s: float


@dataclass(frozen=True, slots=True)
class Alternative:
    """Words that explain the sound, and the log-likelihood that they were said."""

    words: tuple[str, ...]
    logp: float


@dataclass(frozen=True, slots=True)
class Hearing:
    """The words of an utterance and how sure the recogniser is of them.

    words: in the grammar's own spelling; empty when nothing of the grammar fits.
    fit: log-likelihood of the words minus that of unrestricted speech, per token; near 0 for
        phrases of the grammar, -4 and below for chatter. None where a recogniser can't say.
    margin: log-likelihood by which the words lead the best phrase that means something else.
        None where a recogniser can't say.
    runner_up: that phrase.
    alternatives: the best phrases with their scores, best first.
    confidences: one number in 0..1 a word, where the recogniser gives them.
    pace: logarithm of how much longer the sound is than the words take to say; 0 is ordinary.
    free: what unrestricted decoding wrote, where there is such a thing.
    asked: the question that the words answer, where they were found among its replies alone.
    """

    words: tuple[str, ...]
    start_s: float
    end_s: float
    recogniser: str
    fit: float | None = None
    margin: float | None = None
    runner_up: tuple[str, ...] | None = None
    alternatives: tuple[Alternative, ...] = ()
    confidences: tuple[float, ...] | None = None
    free: str | None = None
    decode_ms: float = 0.0
    pace: float | None = None
    asked: str | None = None
    extra: dict[str, object] = field(default_factory=dict)


class Recogniser(Protocol):
    """Turns an utterance into words of the grammar that it was made with."""

    @property
    def name(self) -> str:
        """A name that journals keep: which recogniser, which model."""

    def hear(self, utterance: Utterance, wanted: Wanted = always) -> Hearing:
        """Recognise one utterance. Never raises for odd sound: it answers with no words.

        wanted: asked now and then while it goes on.

        Raises:
            NoLongerWantedError: soon after `wanted` said no. A recogniser may go on to its end instead.
        """


@runtime_checkable
class HearsReplies(Protocol):
    """A recogniser that can look for the answer to a question among its replies first."""

    def hear_reply(self, utterance: Utterance, replies: Replies, wanted: Wanted = always) -> Hearing:
        """Recognise one utterance; `Hearing.asked` names the question where a reply was found.

        Raises:
            NoLongerWantedError: as `Recogniser.hear` does.
        """
