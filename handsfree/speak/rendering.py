"""A whole answer as sound: tone, pause, words."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from handsfree.errors import VoiceError
from handsfree.speak.reply import Reply, Tone
from handsfree.speak.sound import Sound, levelled, silence
from handsfree.speak.tones import SAMPLERATE_HZ, tone
from handsfree.speak.voice import Voice

_BREATH_S = 0.04  # between tone and words: enough to separate them without a noticeable delay
_SPEECH_PEAK = 0.7  # of full scale


class Rendered(NamedTuple):
    """An answer's sound, and the fault in rendering its words, if any."""

    sound: Sound
    fault: str | None = None


def render_answer(reply: Reply, voice: Voice | None, *, tones: bool = True) -> Rendered:
    """Render a reply: (n,) int16 at the voice's rate.

    If the words can't be rendered, the tone still distinguishes short, good, over and "say again",
    and `fault` says why. A reply with neither text nor tone gives no samples.

    Args:
        reply: the answer.
        voice: renders the words; None for tones alone.
        tones: play the tone before the words.
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
    return Rendered(Sound(samples, rate), fault)


def render_after_tone(reply: Reply, voice: Voice | None) -> Rendered:
    """Render the pause and the words without the tone: (n,) int16 at the voice's rate.

    For callers that play the tone at once and render the words meanwhile. No words, no samples.
    """
    words, fault = _words(reply, voice)
    if words is None:
        return Rendered(Sound(silence(0, SAMPLERATE_HZ), SAMPLERATE_HZ), fault)
    rate = words.samplerate_hz
    return Rendered(Sound(np.concatenate([silence(_BREATH_S, rate), words.samples]), rate))


def _words(reply: Reply, voice: Voice | None) -> tuple[Sound | None, str | None]:
    if voice is None or not reply.aloud:
        return None, None
    try:
        return levelled(voice.render(reply), _SPEECH_PEAK), None
    except VoiceError as error:
        return None, str(error)
