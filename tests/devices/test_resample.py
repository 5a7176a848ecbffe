"""From any rate to 16 kHz, piece by piece."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from handsfree.devices.microphone import Resampler

pytestmark = pytest.mark.quick

RATES = [8_000, 11_025, 16_000, 22_050, 32_000, 44_100, 48_000, 88_200, 96_000, 192_000]


def tone(hz, rate, seconds=1.0, amplitude=12_000):
    return np.round(amplitude * np.sin(2 * np.pi * hz * np.arange(int(rate * seconds)) / rate)).astype(
        np.int16
    )


@pytest.mark.parametrize("rate", RATES)
def test_a_second_stays_a_second(rate):
    assert len(Resampler(rate)(tone(440, rate))) == pytest.approx(16_000, abs=1)


@pytest.mark.parametrize("rate", RATES)
def test_speech_passes_at_its_level(rate):
    out = Resampler(rate)(tone(1_000, rate))[2_000:].astype(float)
    assert np.sqrt(np.mean(out**2)) == pytest.approx(12_000 / np.sqrt(2), rel=0.01)
    assert np.argmax(np.abs(np.fft.rfft(out))) == pytest.approx(1_000 * len(out) / 16_000, abs=1)


@pytest.mark.parametrize("rate", [22_050, 32_000, 44_100, 48_000, 96_000])
def test_what_would_fold_back_is_gone(rate):
    out = Resampler(rate)(tone(9_500, rate))[2_000:].astype(float)
    assert np.sqrt(np.mean(out**2)) < 12_000 / np.sqrt(2) * 10 ** (-65 / 20)


@settings(deadline=None, max_examples=40)
@given(st.sampled_from(RATES), st.lists(st.integers(0, 900), min_size=1, max_size=12))
def test_pieces_of_any_size_give_the_same_as_the_whole(rate, sizes):
    whole = np.random.default_rng(3).integers(-20_000, 20_000, sum(sizes)).astype(np.int16)
    pieces = np.split(whole, np.cumsum(sizes)[:-1])
    stream = Resampler(rate)
    joined = np.concatenate([stream(piece) for piece in pieces])
    assert np.array_equal(joined, Resampler(rate)(whole))


@pytest.mark.parametrize("rate", [44_100, 48_000, 96_000])
def test_delay_is_next_to_nothing(rate):
    stream = Resampler(rate)
    assert stream.delay_s < 0.002
    click = np.zeros(rate // 10, dtype=np.int16)
    click[rate // 20] = 30_000
    out = np.abs(stream(click).astype(int))
    assert np.argmax(out) / 16_000 - 0.05 == pytest.approx(stream.delay_s, abs=0.0002)


def test_full_scale_doesnt_wrap_round():
    square = np.where(np.arange(48_000) % 100 < 50, 32_767, -32_768).astype(np.int16)
    out = Resampler(48_000)(square)[1_000:].astype(int)
    # a wrapped sample would jump from one end of the scale to the other between two neighbours
    assert np.abs(np.diff(out)).max() < 65_000 * 0.9


def test_rate_of_zero_is_refused():
    with pytest.raises(ValueError, match="sample rate"):
        Resampler(0)
