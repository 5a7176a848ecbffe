"""What the voice says can be heard: the numbers of many answers, by a recogniser.

The recogniser is the packaged network, not the one that listens at the bench: its encoder wasn't adapted,
and it is held to a grammar of answers, as a listener knows what to expect. PocketSphinx and free dictation
understand this formant voice too seldom to judge it.

`tests/bench/understood.py` judges more answers, of all kinds, as they come from the loudspeaker's side of a
live bench; its figures are the claim. This guards them: what it lets pass is a little less, because the
judge's quantised sums differ from processor to processor.
"""

from __future__ import annotations

import random

import numpy as np
import soxr

from handsfree.hear.heard import SAMPLERATE_HZ
from handsfree.speak import EngineVoice, Reply, Sound
from handsfree.understand.numbers import cardinal_words
from tests.answers import CYLINDERS, PARTS, RINGS
from tests.bench.understood import Answer, judged

COUNT, FEWEST = 60, 58


def answer(text: str, sound: Sound) -> Answer:
    voice = soxr.resample(sound.samples.astype(np.float32), sound.samplerate_hz, SAMPLERATE_HZ)
    return Answer(text, np.clip(voice, -32_768, 32_767).astype(np.int16))


def test_numbers_that_the_voice_says_are_heard_as_those_numbers() -> None:
    draw = random.Random(11)
    answers = []
    with EngineVoice() as voice:
        for _ in range(COUNT):
            number, left = cardinal_words(draw.randint(10, 45)), cardinal_words(draw.randint(1, 9))
            place, part = (draw.choice(CYLINDERS), draw.choice(RINGS)), draw.choice(("", *PARTS))
            size = f"{'-'.join(number)} {part}".strip()
            reply = Reply(f"{' '.join(place).capitalize()}, {size}. File {left[0]}.")
            answers.append(answer(reply.text, voice.render(reply)))
    counts, missed = judged(answers)
    assert len(counts) == 3
    assert min(counts.values()) >= FEWEST, missed
