"""The program's answers: wording (pure), tones and the voice."""

from handsfree.speak.amount import Amount, Between, Bound, Side, cardinal, number_words
from handsfree.speak.cache import CachedVoice, journal_beside, phrases_folder
from handsfree.speak.phrasing import Phrasing, place_words
from handsfree.speak.reply import SILENCE, Reply, Tone, Verbosity, VoiceChange
from handsfree.speak.sound import Sound, joined, resampled, save_wav, silence, tone, wav_bytes
from handsfree.speak.verdict_words import After, Logged
from handsfree.speak.voice import (
    TERSE_WORDS_PER_MINUTE,
    WORDS_PER_MINUTE,
    EngineVoice,
    HasPace,
    Voice,
    VoiceSettings,
    named_voice,
    render_after_tone,
    render_answer,
)
from handsfree.speak.wording import Wording
from handsfree.speak.work_words import (
    OpenPlaces,
    ask_command,
    heard_again,
    help_words,
    hint_words,
    new_ring,
    no_such_label,
    nothing_to_go,
    to_go_words,
    vague_words,
    voice_words,
    whats_next,
)

__all__ = [
    "SILENCE",
    "TERSE_WORDS_PER_MINUTE",
    "WORDS_PER_MINUTE",
    "After",
    "Amount",
    "Between",
    "Bound",
    "CachedVoice",
    "EngineVoice",
    "HasPace",
    "Logged",
    "OpenPlaces",
    "Phrasing",
    "Reply",
    "Side",
    "Sound",
    "Tone",
    "Verbosity",
    "Voice",
    "VoiceChange",
    "VoiceSettings",
    "Wording",
    "ask_command",
    "cardinal",
    "heard_again",
    "help_words",
    "hint_words",
    "joined",
    "journal_beside",
    "named_voice",
    "new_ring",
    "no_such_label",
    "nothing_to_go",
    "number_words",
    "phrases_folder",
    "place_words",
    "render_after_tone",
    "render_answer",
    "resampled",
    "save_wav",
    "silence",
    "to_go_words",
    "tone",
    "vague_words",
    "voice_words",
    "wav_bytes",
    "whats_next",
]
