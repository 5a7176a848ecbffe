"""Microphone, loudspeaker and number pad, each in its own process or thread, failing independently."""

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
from handsfree.devices.loudspeaker import FolderPlayer, HasVolume, NullPlayer, Played, Player, SoundPlayer
from handsfree.devices.microphone import (
    QUIET_DB,
    Frame,
    Microphone,
    MicrophoneEvent,
    MicrophoneFound,
    MicrophoneLost,
    MicrophoneReport,
    Overflow,
    measure,
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
    "SoundPlayer",
    "TerminalKeys",
    "measure",
]
