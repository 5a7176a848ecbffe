"""What an endpointer says of a stream, and how long it waits."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from enum import StrEnum

from handsfree.hear.heard import Utterance


@dataclass(frozen=True, slots=True)
class Timing:
    """How long the endpointer waits, and how much it keeps.

    pause_ms: silence after which decoding may begin early; as much is kept after the last word.
    closed_ms, complete_ms, digits_ms, end_ms, incomplete_ms: silence that ends an utterance when it is
        known to be a complete command whose number can't go on, any complete command, one that ends
        with digits and may go on with more, when nothing is known or a number is likely to go on, and
        when it is known to lack something. In a loud room the person waits some 65 ms longer (fixtures,
        median): the voice detector is so late to say that a voice has ended.
    before_ms: sound kept before speech begins. reach_ms: how far back a soft beginning, as the s of
        "six", is looked for before the voice detector's first certainty.
    longest_s: an utterance is split when it gets longer.
    """

    pause_ms: float = 200
    closed_ms: float = 160
    complete_ms: float = 288
    digits_ms: float = 384
    end_ms: float = 550
    incomplete_ms: float = 1000
    before_ms: float = 320
    reach_ms: float = 500
    longest_s: float = 15.0


class Cause(StrEnum):
    """Why an utterance ended."""

    SILENCE = "silence"
    LULL = "a lull over voices in the background"
    OVERTAKEN = "a louder voice"
    LENGTH = "length"
    SOURCE = "end of the source"


@dataclass(frozen=True, slots=True)
class SpeechStarted:
    """Somebody has begun to speak, `at_s` seconds into the source."""

    at_s: float


@dataclass(frozen=True, slots=True, eq=False)
class Pause:
    """The first short silence: decoding may begin, and is thrown away if speech goes on."""

    utterance: Utterance


@dataclass(frozen=True, slots=True)
class Resumed:
    """Speech went on after a `Pause`, `at_s` seconds into the source."""

    at_s: float


@dataclass(frozen=True, slots=True, eq=False)
class Ended:
    """The utterance is over. It is the very object that the last `Pause` gave, if silence ended it."""

    utterance: Utterance
    cause: Cause


EndpointEvent = SpeechStarted | Pause | Resumed | Ended

Complete = Callable[[Utterance], bool | None]
"""Says whether what was said so far is a whole command: yes, no, or don't know."""
