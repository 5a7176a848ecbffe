"""The events of a live bench; all go through one queue, in order."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from enum import StrEnum

from handsfree.devices import KeypadEvent, MicrophoneEvent, Played
from handsfree.hear import Hearing, Utterance
from handsfree.speak import Reply, Tone


@dataclass(frozen=True, slots=True, eq=False)
class Decoded:
    """A recogniser has finished an utterance; `fault` if it failed."""

    utterance: Utterance
    hearing: Hearing | None
    fault: str | None = None


@dataclass(frozen=True, slots=True)
class Spoken:
    """The mouth has finished an answer.

    played: None if nothing could be played. voice_fault, sound_fault: the faults of the voice and
    of the loudspeaker. render_s: time to render the words.
    """

    reply: Reply
    played: Played | None
    voice_fault: str | None = None
    sound_fault: str | None = None
    render_s: float = 0.0


@dataclass(frozen=True, slots=True)
class Steps:
    """Latency from the last speech sample to the first sample of the answer, by steps, in seconds.

    endpoint_s: until the endpoint was certain. decode_s: from there until the words were known (most
    of the decoding overlaps with `endpoint_s`). journal_s: rule and journal. speech_s: rendering the
    first sound, the tone; the words are rendered while it plays. device_s: until the first sample
    left the loudspeaker. said: the words, which may be fewer than those shown.
    """

    endpoint_s: float
    decode_s: float
    journal_s: float
    speech_s: float
    device_s: float
    said: str = ""

    @property
    def total_s(self) -> float:
        """The sum of all steps."""
        return self.endpoint_s + self.decode_s + self.journal_s + self.speech_s + self.device_s


@dataclass(frozen=True, slots=True)
class Quit:
    """A request to stop the bench. `hush`: at once, without finishing the current answer."""

    hush: bool = True


@dataclass(frozen=True, slots=True)
class Reached:
    """A mark in the queue: `told` is called when all that came before it has been handled."""

    told: Callable[[], object]


LiveEvent = MicrophoneEvent | KeypadEvent | Decoded | Spoken | Quit | Reached


class Ears(StrEnum):
    """The state of the ears. The value is the word on the display."""

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
    KEY_AGAIN = "key_again"
    SOUND_LOST = "sound_lost"
    VOICE_LOST = "voice_lost"
    OVERFLOW = "overflow"
    RECOGNISER_FAILED = "recogniser_failed"


@dataclass(frozen=True, slots=True)
class LiveState:
    """The state of a live bench apart from its session.

    level_db, floor_db: levels of the microphone and of the room, relative to full scale.
    heard: the words heard or keyed last. answer, tone: the last answer.
    begun: the unfinished entry to which a key was added last. trouble: sentences about present faults.
    device: the microphone's name. overflows: number of times that sound was lost.
    notice: text to read first, such as the cautions in full, until the user speaks or presses a key.
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
