"""What can happen at a live bench; everything ends in one queue, in order."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum

from handsfree.devices import KeypadEvent, MicrophoneEvent, Played
from handsfree.hear import Hearing, Utterance
from handsfree.speak import Reply, Tone


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


class Ears(StrEnum):
    """What the ears are doing. The value is the word that is shown."""

    STARTING = "starting"
    LISTENING = "listening"
    HEARING = "hearing you"
    THINKING = "thinking"
    SHUT = "not listening"
    ASLEEP = "standing by"
    DEAF = "no microphone"
    OFF = "keys alone"


class Incident(StrEnum):
    """What can go wrong at a live bench, or be right again. The value names its phrase, trouble.NAME."""

    NO_MICROPHONE = "no_microphone"
    MICROPHONE_LOST = "microphone_lost"
    MICROPHONE_BACK = "microphone_back"
    KEYPAD_LOST = "keypad_lost"
    KEYPAD_BACK = "keypad_back"
    SOUND_LOST = "sound_lost"
    VOICE_LOST = "voice_lost"
    OVERFLOW = "overflow"
    RECOGNISER_FAILED = "recogniser_failed"


@dataclass(frozen=True, slots=True)
class LiveState:
    """Everything that changes at a live bench besides its session.

    level_db, floor_db: of the microphone and of the room, below full scale.
    heard: what was heard or keyed last, in words. answer, tone: the last answer.
    begun: the unfinished entry to which a key was added last. trouble: sentences about what is wrong now.
    device: the microphone's name. overflows: how often sound was lost.
    notice: what is to be read first, such as the cautions in full, until somebody speaks or presses a key.
    """

    ears: Ears = Ears.STARTING
    level_db: float = -100.0
    floor_db: float = -100.0
    heard: str = ""
    answer: str = ""
    tone: Tone = Tone.NONE
    begun: str = ""
    trouble: tuple[str, ...] = ()
    device: str = ""
    keypad: str = ""
    overflows: int = 0
    notice: tuple[str, ...] = ()
