"""What the voice says can be heard: every number of many answers, by a recogniser.

The recogniser is the packaged network, not the one that listens at the bench: its encoder wasn't adapted,
and it is held to a grammar of answers, as a listener knows what to expect. PocketSphinx and free
dictation understand this formant voice too seldom to judge it.
"""

from __future__ import annotations

import random

import numpy as np
import pytest
import soxr

from handsfree.hear import Utterance
from handsfree.hear.heard import SAMPLERATE_HZ
from handsfree.hear.phrase import PhraseRecogniser
from handsfree.hear.phrase_model import PACKAGED_ENCODER, PhraseModel
from handsfree.speak import EngineVoice, Reply, Sound
from handsfree.understand.automaton import Automaton, Builder
from handsfree.understand.numbers import cardinal_words

COUNT = 60
FEWEST = 58  # measured: 59 with both seeds
CYLINDERS = ("one", "two", "three", "four", "five", "six", "seven", "eight")
RINGS = ("top", "second")
PARTS = ("", "and a half", "and a quarter", "and three quarters")


def grammar_of_answers() -> Automaton:
    """Hold the answers to readings that came out short."""
    builder = Builder()
    start, ring, number, part, file, left, final = (builder.state() for _ in range(7))
    for word in CYLINDERS:
        builder.phrase(start, ring, [word])
    for word in RINGS:
        builder.phrase(ring, number, [word])
    for value in range(1, 100):
        builder.phrase(number, part, cardinal_words(value))
        builder.phrase(left, final, cardinal_words(value))
    for words in PARTS:
        if words:
            builder.phrase(part, file, words.split())
        else:
            builder.free(part, file)
    builder.phrase(file, left, ["file"])
    return builder.build(start, final)


def utterance(sound: Sound) -> Utterance:
    heard = soxr.resample(sound.samples.astype(np.float32), sound.samplerate_hz, SAMPLERATE_HZ)
    samples = np.clip(heard, -32_768, 32_767).astype(np.int16)
    return Utterance(samples, 0.0, len(samples) / SAMPLERATE_HZ)


@pytest.mark.parametrize("seed", [1, 2])
def test_numbers_that_the_voice_says_are_heard_as_those_numbers(seed: int) -> None:
    draw = random.Random(seed)
    recogniser = PhraseRecogniser(grammar_of_answers(), model=PhraseModel(encoder=PACKAGED_ENCODER))
    missed = []
    with EngineVoice() as voice:
        for _ in range(COUNT):
            number, left = cardinal_words(draw.randint(10, 45)), cardinal_words(draw.randint(1, 9))
            place, part = (draw.choice(CYLINDERS), draw.choice(RINGS)), draw.choice(PARTS)
            size = f"{'-'.join(number)} {part}".strip()
            reply = Reply(f"{' '.join(place).capitalize()}, {size}. File {left[0]}.")
            hearing = recogniser.hear(utterance(voice.render(reply)))
            if hearing.words != (*place, *number, *part.split(), "file", *left):
                missed.append((reply.text, " ".join(hearing.words)))
    assert COUNT - len(missed) >= FEWEST, missed
