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
class Steps:
    """Where the time went between the last speech sample and the first sample of the answer, in s.

    endpoint_s: until it was certain that nobody goes on. decode_s: from there until the words were
    known (most of the decoding lies in `endpoint_s`). journal_s: rule and journal. speech_s: making
    the first sound, which is the tone's; the words are made while it sounds. device_s: until the first
    sample left the loudspeaker. said: the words, which may be fewer than those shown.
    """

    endpoint_s: float
    decode_s: float
    journal_s: float
    speech_s: float
    device_s: float
    said: str = ""

    @property
    def total_s(self) -> float:
        """All of it."""
        return self.endpoint_s + self.decode_s + self.journal_s + self.speech_s + self.device_s


@dataclass(frozen=True, slots=True)
class Quit:
    """Somebody asked the bench to stop. `hush`: at once, without finishing the answer in hand."""

    hush: bool = True


LiveEvent = MicrophoneEvent | KeypadEvent | Decoded | Spoken | Quit
