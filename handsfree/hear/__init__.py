"""Hearing: sound files, endpointing, recognisers and their models."""

from handsfree.hear.endpoint import Endpointer, utterances
from handsfree.hear.heard import (
    SAMPLERATE_HZ,
    DecodingCancelledError,
    Hearing,
    HearsReplies,
    Recogniser,
    Samples,
    Utterance,
    never,
)
from handsfree.hear.phrase import PhraseRecogniser, trimmed
from handsfree.hear.phrase_model import PACKAGED_ENCODER, PhraseModel, model_folder
from handsfree.hear.sound import read_sound
from handsfree.hear.speech_in_hand import Ended, EndpointEvent, Pause, Resumed, SpeechStarted, Timing
from handsfree.hear.tokens import END
from handsfree.hear.voices import VOICE_SIZE, VoiceModel, clearness_db

__all__ = [
    "END",
    "PACKAGED_ENCODER",
    "SAMPLERATE_HZ",
    "VOICE_SIZE",
    "DecodingCancelledError",
    "Ended",
    "EndpointEvent",
    "Endpointer",
    "Hearing",
    "HearsReplies",
    "Pause",
    "PhraseModel",
    "PhraseRecogniser",
    "Recogniser",
    "Resumed",
    "Samples",
    "SpeechStarted",
    "Timing",
    "Utterance",
    "VoiceModel",
    "clearness_db",
    "model_folder",
    "never",
    "read_sound",
    "trimmed",
    "utterances",
]
