"""A whole answer as sound: its tone, a breath, its words."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from handsfree.errors import VoiceError
from handsfree.speak.reply import Reply, Tone
from handsfree.speak.sound import Sound, levelled, silence
from handsfree.speak.tones import SAMPLERATE_HZ, tone
from handsfree.speak.voice import Voice

_BREATH_S = 0.04  # between tone and words: enough to part them, too short to be waited for
_SPEECH_PEAK = 0.7  # of full scale


class Answer(NamedTuple):
    """An answer's sound, and what went wrong with its words, if anything did."""

    sound: Sound
    fault: str | None = None


def render_answer(reply: Reply, voice: Voice | None, *, tones: bool = True) -> Answer:
    """Render a reply: (n,) int16 at the voice's rate.

    Where the words can't be had, the tone still tells short, good, over and "say again" apart, and
    `fault` says why there are no words. A reply with neither text nor tone gives no samples.

    Args:
        reply: what to say.
        voice: who says it; None for tones alone.
        tones: put the tone before the words.
    """
    words, fault = _words(reply, voice)
    rate = SAMPLERATE_HZ if words is None else words.samplerate_hz
    parts = []
    if tones and reply.tone is not Tone.NONE:
        parts.append(tone(reply.tone, rate).samples)
    if words is not None:
        if parts:
            parts.append(silence(_BREATH_S, rate))
        parts.append(words.samples)
    samples = np.concatenate(parts) if parts else silence(0, rate)
    return Answer(Sound(samples, rate), fault)


def render_after_tone(reply: Reply, voice: Voice | None) -> Answer:
    """Render what follows the tone: the breath and the words, (n,) int16 at the voice's rate.

    For whoever plays the tone at once, and makes the words while it sounds. Without words there are no
    samples.
    """
    words, fault = _words(reply, voice)
    if words is None:
        return Answer(Sound(silence(0, SAMPLERATE_HZ), SAMPLERATE_HZ), fault)
    rate = words.samplerate_hz
    return Answer(Sound(np.concatenate([silence(_BREATH_S, rate), words.samples]), rate))


def _words(reply: Reply, voice: Voice | None) -> tuple[Sound | None, str | None]:
    if voice is None or not reply.aloud:
        return None, None
    try:
        return levelled(voice.render(reply), _SPEECH_PEAK), None
    except VoiceError as error:
        return None, str(error)
