"""What the voice says can be heard: the numbers of many answers, by a recogniser.

The recogniser is the packaged network, not the one that listens at the bench: its encoder wasn't adapted,
and it is held to a grammar of answers, as a listener knows what to expect. PocketSphinx and free dictation
understand this formant voice too seldom to judge it.

`tests/measure/understood.py` judges more answers, of all kinds, as they come from the loudspeaker's side of a
live bench; its figures are the claim. This guards them: what it lets pass is a little less, because the
judge's quantised sums differ from processor to processor.
"""

from __future__ import annotations

import random

from handsfree.speak import EngineVoice
from handsfree.understand import cardinal_words
from tests.measure.understood import LISTENERS, judged, spoken, used_to
from tests.support.answers import CYLINDERS, PARTS, RINGS

COUNT = 20
FEWEST = dict(zip(LISTENERS, (18, 19), strict=True))


def test_numbers_that_the_voice_says_are_heard_as_those_numbers() -> None:
    draw = random.Random(11)
    answers = []
    with EngineVoice() as voice:
        for _ in range(COUNT):
            number, left = cardinal_words(draw.randint(10, 45)), cardinal_words(draw.randint(1, 9))
            place, part = (draw.choice(CYLINDERS), draw.choice(RINGS)), draw.choice(("", *PARTS))
            size = f"{'-'.join(number)} {part}".strip()
            answers.append(spoken(f"{' '.join(place).capitalize()}, {size}. File {left[0]}.", voice))
        rhythms = used_to(voice)
    counts, missed = judged(answers, rhythms)
    assert len(counts) == 3
    for understood in counts.values():
        assert all(understood[listener] >= fewest for listener, fewest in FEWEST.items()), missed
