"""What can happen at a live bench; everything ends in one queue, in order."""

from __future__ import annotations

from dataclasses import dataclass

from handsfree.hear import Hearing, Utterance
from handsfree.hear.keypad import KeypadEvent
from handsfree.hear.microphone import MicrophoneEvent
from handsfree.speak import Reply
from handsfree.speak.player import Played


@dataclass(frozen=True, slots=True, eq=False)
class Decoded:
    """A recogniser is done with an utterance; `fault` where it broke."""

    utterance: Utterance
    hearing: Hearing | None
    fault: str | None = None


@dataclass(frozen=True, slots=True)
class Spoken:
    """The mouth is done with an answer.

    played: None where nothing could be played. voice_fault, sound_fault: what went wrong with the
    words and with the loudspeaker. render_s: how long the words took to make.
    """

    reply: Reply
    played: Played | None
    voice_fault: str | None = None
    sound_fault: str | None = None
    render_s: float = 0.0


@dataclass(frozen=True, slots=True)
class Quit:
    """Somebody asked the bench to stop."""


LiveEvent = MicrophoneEvent | KeypadEvent | Decoded | Spoken | Quit
