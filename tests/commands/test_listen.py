"""What `check --listen` says of the words that it understood."""

import numpy as np
import pytest

from handsfree.devices.microphone import Resampler
from handsfree.live.takes import PHRASE, recognised, say_what_was_understood
from handsfree.speak import EngineVoice, Reply, VoiceSettings


def spoken(text):
    with EngineVoice(VoiceSettings(words_per_minute=150)) as voice:  # as people speak to a machine
        sound = voice.render(Reply(text))
    return Resampler(sound.samplerate_hz)(sound.samples)


@pytest.mark.parametrize(
    ("text", "good", "says"),
    [
        (PHRASE, True, 'Understood: "cylinder three top eighteen'),
        ("cylinder four top, nineteen thou", False, "That isn't the sentence that was asked for; say"),
        ("the weather is lovely in the mountains", False, "No sentence of the bench was understood; say"),
    ],
)
def test_the_words_that_were_understood_are_told(text, good, says):
    told = []
    assert say_what_was_understood(recognised(spoken(text)), told.append) is good
    assert says in told[0]


def test_silence_is_understood_as_nothing():
    assert recognised(np.zeros(16_000, np.int16)) is None
