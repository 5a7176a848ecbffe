"""The input and output of a recogniser."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Protocol, runtime_checkable

import numpy as np
from numpy.typing import NDArray

from handsfree.sound_format import SAMPLERATE_HZ as SAMPLERATE_HZ

if TYPE_CHECKING:
    from handsfree.understand import Replies

Samples = NDArray[np.int16]


def never() -> bool:
    """Return False: nothing is cancelled."""
    return False


class DecodingCancelledError(Exception):
    """Decoding was cancelled, for instance because speech resumed."""


@dataclass(frozen=True, slots=True, eq=False)
class Utterance:
    """Speech cut out of a stream.

    samples: (n,) int16, 16 kHz mono. start_s, end_s: beginning and end of speech, in seconds from the
    start of its source.
    """

    samples: Samples
    start_s: float
    end_s: float


@dataclass(frozen=True, slots=True)
class Alternative:
    """A candidate's words and their log-likelihood."""

    words: tuple[str, ...]
    logp: float


@dataclass(frozen=True, slots=True)
class Hearing:
    """The words of an utterance and the recogniser's confidence in them.

    words: in the grammar's own spelling; empty when nothing of the grammar fits.
    fit: log-likelihood of the words minus that of unrestricted speech, per token; near 0 for
        phrases of the grammar, -4 and below for chatter. None if the recogniser has none.
    margin: lead in log-likelihood over the best rival, a phrase with another meaning. None if the
        recogniser has none.
    runner_up: that rival.
    alternatives: the best candidates with their scores, best first.
    confidences: one number in 0..1 a word, if the recogniser has them.
    pace: logarithm of the ratio of the duration of the speaker's sound to the expected one; 0 is ordinary.
    free: text of the unrestricted decoding, if there is one.
    asked: the question that the words answer, if they were found among its replies alone.
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
    """Turns an utterance into words of its grammar."""

    @property
    def name(self) -> str:
        """Name of recogniser and model, for journals."""

    def hear(self, utterance: Utterance, cancelled: Callable[[], bool] = never) -> Hearing:
        """Recognise one utterance. Odd sound raises no error: the result has no words.

        cancelled: called now and then during decoding; True cancels it.

        Raises:
            DecodingCancelledError: soon after `cancelled` returned True. A recogniser may finish instead.
        """


@runtime_checkable
class HearsReplies(Protocol):
    """A recogniser that can try the replies to an open question first."""

    def hear_reply(
        self, utterance: Utterance, replies: Replies, cancelled: Callable[[], bool] = never
    ) -> Hearing:
        """Recognise one utterance; `Hearing.asked` names the question if a reply was found.

        Raises:
            DecodingCancelledError: as for `Recogniser.hear`.
        """
