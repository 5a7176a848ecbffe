"""Microphone, loudspeaker and number pad, each in its own process or thread, failing independently."""

from handsfree.devices.fitness import QUIET_DB, MicrophoneReport, measure
from handsfree.devices.keypad import (
    OTHER,
    PIPE,
    TERMINAL_KEYS,
    KeypadEvent,
    KeypadFound,
    KeypadLost,
    KeyPressed,
    NumberPad,
    TerminalKeys,
)
from handsfree.devices.loudspeaker import (
    FolderPlayer,
    HasVolume,
    NullPlayer,
    Played,
    Player,
    SoundPlayer,
    Then,
)
from handsfree.devices.microphone import (
    Frame,
    Microphone,
    MicrophoneEvent,
    MicrophoneFound,
    MicrophoneLost,
    Overflow,
    Resampler,
)

__all__ = [
    "OTHER",
    "PIPE",
    "QUIET_DB",
    "TERMINAL_KEYS",
    "FolderPlayer",
    "Frame",
    "HasVolume",
    "KeyPressed",
    "KeypadEvent",
    "KeypadFound",
    "KeypadLost",
    "Microphone",
    "MicrophoneEvent",
    "MicrophoneFound",
    "MicrophoneLost",
    "MicrophoneReport",
    "NullPlayer",
    "NumberPad",
    "Overflow",
    "Played",
    "Player",
    "Resampler",
    "SoundPlayer",
    "TerminalKeys",
    "Then",
    "measure",
]
