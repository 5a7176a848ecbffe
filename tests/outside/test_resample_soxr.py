"""The microphone's resampler against soxr at its highest quality, on a recording of a voice."""

import numpy as np
import pytest

from handsfree.devices.microphone import Resampler
from handsfree.speak import EngineVoice, Reply

soxr = pytest.importorskip("soxr")


@pytest.fixture(scope="module")
def speech():
    with EngineVoice() as voice:
        sound = voice.render(Reply("Cylinder three top, eighteen and a half."))
    voice_only = soxr.resample(
        sound.samples, sound.samplerate_hz, 16_000, quality="VHQ"
    )  # nothing above 8 kHz
    return soxr.resample(voice_only, 16_000, 48_000, quality="VHQ").astype(np.int16)


@pytest.mark.parametrize("rate", [16_000 * 2, 44_100, 48_000, 96_000])
def test_voice_agrees_with_soxr_once_the_delay_is_taken_off(speech, rate):
    source = soxr.resample(speech, 48_000, rate, quality="VHQ").astype(np.int16)
    stream = Resampler(rate)
    ours = stream(source).astype(float)
    theirs = soxr.resample(source.astype(float), rate, 16_000, quality="VHQ")
    # the same sound, later by our delay, which need not be a whole number of samples
    turned = np.fft.rfft(theirs) * np.exp(
        -2j * np.pi * np.fft.rfftfreq(len(theirs), 1 / 16_000) * stream.delay_s
    )
    theirs = np.fft.irfft(turned, len(theirs))
    count = min(len(ours), len(theirs))
    ours, theirs = ours[200 : count - 200], theirs[200 : count - 200]
    spectrum = np.fft.rfft(theirs)
    spectrum[int(len(spectrum) * 6_800 / 8_000) :] = 0  # above that ours has begun to fall
    ours_low = np.fft.rfft(ours)
    ours_low[int(len(ours_low) * 6_800 / 8_000) :] = 0
    error = np.linalg.norm(ours_low - spectrum) / np.linalg.norm(spectrum)
    assert error < 0.001
