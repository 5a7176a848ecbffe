"""Samples: trimming, levelling, saving."""

import wave

import numpy as np
import pytest

from handsfree.errors import SoundError
from handsfree.speak import Sound, resampled, save_wav
from handsfree.speak.sound import levelled, trimmed

pytestmark = pytest.mark.quick


def beep(lead, length, tail, rate=8_000, amplitude=8_000):
    wave_ = amplitude * np.sin(2 * np.pi * 440 * np.arange(length) / rate)
    samples = np.concatenate([np.zeros(lead), wave_, np.zeros(tail)])
    return Sound(np.round(samples).astype(np.int16), rate)


def test_silence_before_and_after_is_cut_to_its_margins():
    cut = trimmed(beep(4_000, 800, 4_000), lead_s=0.01, tail_s=0.02)
    assert abs(len(cut.samples) - (80 + 800 + 160)) <= 10


def test_sound_without_silence_is_left_alone():
    sound = beep(0, 800, 0)
    assert len(trimmed(sound).samples) >= 795


def test_silence_alone_becomes_nothing():
    assert len(trimmed(beep(100, 0, 100)).samples) == 0


@pytest.mark.parametrize("amplitude", [100, 8_000, 32_767])
def test_levelled_sound_peaks_where_asked_and_never_clips(amplitude):
    level = levelled(beep(0, 8_000, 0, amplitude=amplitude), 0.7)
    assert np.abs(level.samples).max() == pytest.approx(0.7 * 32_767, abs=1)


def test_levelling_silence_or_nothing_changes_nothing():
    assert np.array_equal(levelled(beep(10, 0, 0), 0.7).samples, np.zeros(10))
    assert len(levelled(beep(0, 0, 0), 0.7).samples) == 0


def test_resampling_keeps_duration_and_pitch():
    up = resampled(beep(0, 8_000, 0), 48_000)
    assert up.duration_s == pytest.approx(1)
    assert np.argmax(np.abs(np.fft.rfft(up.samples))) == 440


def test_saved_wav_reads_back_the_same(tmp_path):
    sound = beep(10, 100, 10)
    save_wav(tmp_path / "a.wav", sound)
    with wave.open(str(tmp_path / "a.wav")) as file:
        assert (file.getframerate(), file.getnchannels(), file.getsampwidth()) == (8_000, 1, 2)
        assert file.readframes(10_000) == sound.samples.tobytes()
    assert list(tmp_path.iterdir()) == [tmp_path / "a.wav"]


def test_folder_that_isnt_there_gets_one_sentence(tmp_path):
    with pytest.raises(SoundError, match=r"can't write the sound file .*No such file.*choose another folder"):
        save_wav(tmp_path / "none" / "a.wav", beep(0, 10, 0))
