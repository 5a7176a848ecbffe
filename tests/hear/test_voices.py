"""The network that tells voices apart, against what librosa and torch make of the same sound.

`voices_reference.npz` was made once, with librosa 0.10.2 (`feature.melspectrogram`, 25 ms, 10 ms, 40 bands)
and torch 1.13.0 (three LSTM layers, a linear one, ReLU, length 1) from the weights in the wheel resemblyzer
0.1.4.
"""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from handsfree.errors import ModelError
from handsfree.hear import VOICE_SIZE, VoiceModel, read_sound
from handsfree.hear.voices import WEIGHTS, clearness_db, levelled, mel_energies, without_room

REFERENCE = np.load(Path(__file__).with_name("voices_reference.npz"))
FIXTURES = Path(__file__).parents[2] / "audio_fixtures"


def sweep() -> np.ndarray:
    rng = np.random.default_rng(7)
    time = np.arange(20_000) / 16_000
    tone = np.sin(2 * np.pi * (220 * time + 300 * time * time))
    return (0.2 * tone + 0.05 * rng.standard_normal(20_000)).astype(np.float32)


def test_mel_energies_are_those_of_librosa():
    assert mel_energies(sweep())[::5] == pytest.approx(REFERENCE["mels"], rel=1e-4, abs=1e-6)


@pytest.mark.parametrize(("name", "frames"), [("voice", 126), ("beginning", 60)])
def test_a_voice_is_the_one_that_torch_computes(name, frames):
    """The weights are stored with 16 bits: the angle between the two is below a fifth of a degree."""
    sound = sweep() * np.float32(10 ** (-30 / 20) / np.sqrt(np.mean(sweep() ** 2)))
    (voice,) = VoiceModel()._session.run(None, {"mels": mel_energies(sound)[None, :frames]})[0]
    assert float(voice @ REFERENCE[name]) > 1 - 5e-6


def test_a_voice_has_length_one_whatever_the_sound():
    network = VoiceModel()
    for samples in (np.zeros(16_000, np.int16), np.full(300, 32_767, np.int16), np.zeros(0, np.int16)):
        voice = network.voice(samples)
        assert voice.shape == (VOICE_SIZE,)
        assert np.isfinite(voice).all()
    assert levelled(np.zeros(0, np.int16)).shape == (0,)


def test_the_level_of_the_sound_changes_nothing():
    samples = read_sound(next(iter(sorted(FIXTURES.glob("**/*.ogg")))))
    network = VoiceModel()
    quiet = (samples / 8).astype(np.int16)
    assert float(network.voice(samples) @ network.voice(quiet)) > 0.999


def test_steady_noise_is_taken_out_and_told():
    rng = np.random.default_rng(3)
    talk = rng.normal(0, 3000, 32_000) * (np.arange(32_000) // 4000 % 2)
    noisy = (talk + rng.normal(0, 700, 32_000)).astype(np.int16)
    assert clearness_db(talk.astype(np.int16)) > 25 > clearness_db(noisy)
    left = without_room(mel_energies(levelled(noisy)))
    assert left[5:20].sum() < 0.1 * left[30:45].sum()  # a pause, and speech
    assert left.sum() == pytest.approx(mel_energies(levelled(noisy)).sum(), rel=1e-4)


def test_weights_that_are_missing_are_named():
    with pytest.raises(ModelError, match="tells voices apart"):
        VoiceModel(WEIGHTS.with_name("gone.onnx")).voice(np.zeros(16_000, np.int16))
