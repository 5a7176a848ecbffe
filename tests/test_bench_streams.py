"""The benches' streams: recordings lie where they say, and utterances are given to the right ones."""

from __future__ import annotations

import numpy as np
import pytest

from handsfree.hear import SAMPLERATE_HZ, Utterance
from tests.measure.stream import BEFORE_S, BETWEEN_S, IN_A_ROW, streams

pytestmark = pytest.mark.quick

SAID = [(name, np.full(8000 + 100 * name, name + 1, np.int16)) for name in range(30)]


def heard(start_s: float, end_s: float) -> Utterance:
    return Utterance(np.zeros(0, np.int16), start_s, end_s)


def test_each_recording_is_in_one_stream_where_it_says() -> None:
    found = []
    for stream in streams(SAID):
        assert len(stream.placed) <= IN_A_ROW
        assert stream.placed[0].start_s == BEFORE_S
        for place in stream.placed:
            here = slice(round(place.start_s * SAMPLERATE_HZ), round(place.end_s * SAMPLERATE_HZ))
            assert (stream.samples[here] == place.what + 1).all()
            found.append(place.what)
        gaps = [b.start_s - a.end_s for a, b in zip(stream.placed, stream.placed[1:], strict=False)]
        assert all(BETWEEN_S[0] - 0.001 <= gap <= BETWEEN_S[1] for gap in gaps)
    assert sorted(found) == [name for name, _ in SAID]


def test_utterances_go_to_what_they_overlap_and_to_the_first_of_two() -> None:
    stream = next(streams(SAID))
    first, second = stream.placed[:2]
    theirs, strays = stream.sorted_out(
        [
            heard(0.0, first.start_s + 0.1),  # no more than touches it
            heard(first.start_s + 0.05, first.end_s),
            heard(first.end_s - 0.3, second.end_s),
        ]
    )
    assert [len(mine) for mine in theirs[:3]] == [2, 0, 0]
    assert len(strays) == 1
