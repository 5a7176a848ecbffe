"""What the program says: wording (pure), tones, the voice, and playing them."""

from handsfree.speak.amount import Amount, Between, Bound, Side, amount_words, length_words
from handsfree.speak.answer import Answer, render_after_tone, render_answer
from handsfree.speak.cache import CachedVoice
from handsfree.speak.numbers import cardinal, number_words
from handsfree.speak.phrasebook import Phrasebook, read_phrasebook, shipped_phrasebook
from handsfree.speak.phrasing import label_words, listed, place_words
from handsfree.speak.player import FolderPlayer, HasVolume, NullPlayer, Played, Player, SoundPlayer
from handsfree.speak.reply import SILENCE, Reply, Tone, Verbosity, VoiceChange
from handsfree.speak.sound import Sound, save_wav
from handsfree.speak.tones import tone
from handsfree.speak.verdict_words import After, Logged, VerdictWords
from handsfree.speak.voice import EngineVoice, HasPace, Voice, VoiceSettings
from handsfree.speak.wording import OpenPlaces, Wording

__all__ = [
    "SILENCE",
    "After",
    "Amount",
    "Answer",
    "Between",
    "Bound",
    "CachedVoice",
    "EngineVoice",
    "FolderPlayer",
    "HasPace",
    "HasVolume",
    "Logged",
    "NullPlayer",
    "OpenPlaces",
    "Phrasebook",
    "Played",
    "Player",
    "Reply",
    "Side",
    "Sound",
    "SoundPlayer",
    "Tone",
    "Verbosity",
    "VerdictWords",
    "Voice",
    "VoiceChange",
    "VoiceSettings",
    "Wording",
    "amount_words",
    "cardinal",
    "label_words",
    "length_words",
    "listed",
    "number_words",
    "place_words",
    "read_phrasebook",
    "render_after_tone",
    "render_answer",
    "save_wav",
    "shipped_phrasebook",
    "tone",
]
