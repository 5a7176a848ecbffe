"""What the program says: wording (pure), tones, the voice, and playing them."""

from handsfree.speak.amount import Amount, Between, Bound, Side
from handsfree.speak.cache import CachedVoice, journal_beside, phrases_folder
from handsfree.speak.numbers import number_words
from handsfree.speak.phrasing import place_words
from handsfree.speak.rendering import render_after_tone, render_answer
from handsfree.speak.reply import SILENCE, Reply, Tone, Verbosity
from handsfree.speak.sound import Sound, joined, resampled, save_wav, wav_bytes
from handsfree.speak.tones import tone
from handsfree.speak.voice import EngineVoice, Voice, VoiceSettings
from handsfree.speak.wording import OpenPlaces, Wording

__all__ = [
    "SILENCE",
    "Amount",
    "Between",
    "Bound",
    "CachedVoice",
    "EngineVoice",
    "OpenPlaces",
    "Reply",
    "Side",
    "Sound",
    "Tone",
    "Verbosity",
    "Voice",
    "VoiceSettings",
    "Wording",
    "joined",
    "journal_beside",
    "number_words",
    "phrases_folder",
    "place_words",
    "render_after_tone",
    "render_answer",
    "resampled",
    "save_wav",
    "tone",
    "wav_bytes",
]
