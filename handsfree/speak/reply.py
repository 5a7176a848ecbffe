"""The program's answer: a sentence to show, a sentence to speak, and a tone."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum


class Tone(StrEnum):
    """The short sound before an answer, distinct in rhythm as well as pitch."""

    SHORT = "short"
    GOOD = "good"
    OVER = "over"
    AGAIN = "again"
    ASK = "ask"
    DONE = "done"
    NOTE = "note"
    TICK = "tick"
    OPEN = "open"
    NONE = "none"


class Verbosity(StrEnum):
    """Length of answers: bare numbers, a sentence, or every name and unit."""

    TERSE = "terse"
    NORMAL = "normal"
    FULL = "full"


class VoiceChange(StrEnum):
    """A change of the voice that the user may ask for."""

    LOUDER = "louder"
    QUIETER = "quieter"
    FASTER = "faster"
    SLOWER = "slower"


@dataclass(frozen=True, slots=True)
class Reply:
    """One answer.

    text: the sentence to show; empty where nothing is to be said.
    spoken: the sentence for the voice, if it differs from `text` (details of a fault are shown
        but not spoken).
    tone: the sound before the words.
    expects: phrases that would answer a question, best first; empty where nothing is asked.
    pieces: the spoken words in pieces, if the user may interrupt between two of them.
    change: a change of the voice before it says this.
    """

    text: str
    spoken: str | None = None
    tone: Tone = Tone.NONE
    expects: tuple[str, ...] = ()
    pieces: tuple[str, ...] = ()
    change: VoiceChange | None = None

    @property
    def aloud(self) -> str:
        """The words for the voice.

        >>> Reply("Say again?").aloud, Reply("No microphone: usb 3 gone.", spoken="No microphone.").aloud
        ('Say again?', 'No microphone.')
        """
        return self.text if self.spoken is None else self.spoken


SILENCE = Reply("")
"""The answer to chatter: nothing."""
