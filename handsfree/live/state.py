"""What a live bench is doing, for whoever shows it."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum

from handsfree.speak import Tone


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
