"""Ears: sound, where speech begins and ends, recognisers and their models."""

from handsfree.hear.endpoint import Endpointer, listen, utterances
from handsfree.hear.endpoint_event import (
    Cause,
    Complete,
    Ended,
    EndpointEvent,
    Pause,
    Resumed,
    SpeechStarted,
    Timing,
)
from handsfree.hear.heard import (
    SAMPLERATE_HZ,
    Alternative,
    Hearing,
    HearsReplies,
    NoLongerWantedError,
    Recogniser,
    Samples,
    Utterance,
    Wanted,
    always,
)
from handsfree.hear.sound import read_sound, stream_sound, write_wav

__all__ = [
    "SAMPLERATE_HZ",
    "Alternative",
    "Cause",
    "Complete",
    "Ended",
    "EndpointEvent",
    "Endpointer",
    "Hearing",
    "HearsReplies",
    "NoLongerWantedError",
    "Pause",
    "Recogniser",
    "Resumed",
    "Samples",
    "SpeechStarted",
    "Timing",
    "Utterance",
    "Wanted",
    "always",
    "listen",
    "read_sound",
    "stream_sound",
    "utterances",
    "write_wav",
]
