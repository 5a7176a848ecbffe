"""Where real people begin and end to speak: recordings of two Debian packages, in quiet and in noise.

Synthetic speech has clean edges; a person breathes, trails off and holds back.
"""

from __future__ import annotations

import numpy as np
import pytest

from handsfree.hear import Samples, read_sound, utterances
from handsfree.recordings.noise import mix, noise
from tests.support.human import TESTDATA, need, prompt, trimmed

NUMBERS = [f"digits/{number}" for number in (*range(1, 21), *range(30, 100, 10))]
SENTENCES = ("vm-deleted", "vm-tomakecall", "queue-callswaiting", "vm-goodbye", "conf-onlyperson")


def gaps(parts: list[Samples], gap_s: float) -> tuple[Samples, list[slice]]:
    silence = np.zeros(round(gap_s * 16000), np.int16)
    pieces, spans, at = [silence], [], len(silence)
    for part in parts:
        spans.append(slice(at, at + len(part)))
        pieces += [part, silence]
        at += len(part) + len(silence)
    return np.concatenate(pieces), spans


def covered(found: list[tuple[float, float]], span: slice, slack_s: float) -> int:
    """How many utterances hold the whole of a span, but for that much at either end."""
    begin, end = span.start / 16000 + slack_s, span.stop / 16000 - slack_s
    return sum(start <= begin and end <= stop for start, stop in found)


def spans_of(samples: Samples) -> list[tuple[float, float]]:
    """Start and end of each utterance, with the sound that is kept around it."""
    return [(u.start_s - 0.32, u.end_s + 0.2) for u in utterances(samples)]


def test_every_number_word_of_a_person_is_an_utterance() -> None:
    parts = [trimmed(prompt(name)) for name in NUMBERS]
    samples, spans = gaps(parts, 1.2)
    found = spans_of(samples)
    assert len(found) == len(parts)
    assert [covered(found, span, 0.0) for span in spans] == [1] * len(parts)


@pytest.mark.parametrize("kind", ["pink", "compressor", "grinder"])
@pytest.mark.parametrize("snr_db", [10, 5])
def test_every_number_word_of_a_person_is_found_in_noise(kind: str, snr_db: float) -> None:
    clean, spans = gaps([trimmed(prompt(name)) for name in NUMBERS], 1.2)
    found = spans_of(mix(clean, noise(kind, len(clean), np.random.default_rng(6)), snr_db))
    assert len(found) == len(spans)
    assert [covered(found, span, 0.03) for span in spans] == [1] * len(spans)


@pytest.mark.parametrize("name", SENTENCES)
def test_sentence_of_a_person_is_one_utterance(name: str) -> None:
    samples, (span,) = gaps([trimmed(prompt(name))], 0.8)
    found = spans_of(samples)
    assert covered(found, span, 0.0) == 1
    assert len(found) == 1


@pytest.mark.parametrize("number", range(1, 6))
def test_recorded_command_of_a_file_is_one_utterance(number: int) -> None:
    path = TESTDATA / "cards" / f"{number:03d}.wav"
    need(path, "pocketsphinx-testdata")
    samples = read_sound(path)
    (found,) = utterances(samples)
    power = samples.astype(float) ** 2
    start = round((found.start_s - 0.32) * 16000)
    assert power[max(0, start) : round((found.end_s + 0.2) * 16000)].sum() / power.sum() > 0.97
