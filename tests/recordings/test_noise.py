"""Shop noise: spectra, rhythm, seeds and levels."""

from __future__ import annotations

import numpy as np
import pytest
from numpy.random import default_rng

from handsfree.recordings import active_level_db, level_db, to_sound
from handsfree.recordings.noise import (
    KINDS,
    NEEDS_TALK,
    SOURCES,
    clip,
    mix,
    noise,
    over_noise_db,
    reverberate,
    room_response,
    spoil,
    to_samples,
)

pytestmark = pytest.mark.quick

RATE = 16_000
SECONDS = 8
N = RATE * SECONDS


def speech_like(seconds: float = 3.0, seed: int = 5) -> np.ndarray:
    """A buzz that comes and goes four times a second, with a pause, as int16."""
    rng = default_rng(seed)
    time = np.arange(int(seconds * RATE)) / RATE
    buzz = sum(np.sin(2 * np.pi * 120 * k * time) / k for k in range(1, 25))
    sound = buzz * np.clip(np.sin(2 * np.pi * 2 * time), 0, 1) + 0.001 * rng.standard_normal(len(time))
    sound[int(1.2 * RATE) : int(1.8 * RATE)] = 0
    return to_samples(0.1 * sound)


TALK = [speech_like(seed=seed) for seed in range(3)]


def power_db(sound: np.ndarray, low_hz: float, high_hz: float) -> float:
    """Power between two frequencies, by FFT, dB."""
    spectrum = np.abs(np.fft.rfft(sound)) ** 2
    hz = np.fft.rfftfreq(len(sound), 1 / RATE)
    return float(10 * np.log10(spectrum[(hz >= low_hz) & (hz < high_hz)].sum() + 1e-12))


@pytest.mark.parametrize("kind", SOURCES)
def test_every_noise_has_unit_level_and_is_the_same_for_the_same_seed(kind: str) -> None:
    first = noise(kind, N, default_rng(1), TALK)
    again = noise(kind, N, default_rng(1), TALK)
    other = noise(kind, N, default_rng(2), TALK)
    assert first.shape == (N,)
    assert np.all(np.isfinite(first))
    assert np.sqrt(np.mean(first**2)) == pytest.approx(1)
    assert np.array_equal(first, again)
    assert not np.array_equal(first, other)


@pytest.mark.parametrize("n", [1, 160, 1234])
@pytest.mark.parametrize("kind", SOURCES)
def test_short_noise_has_the_length_asked_for(kind: str, n: int) -> None:
    assert noise(kind, n, default_rng(1), TALK).shape == (n,)


def test_pink_holds_equal_power_in_each_octave() -> None:
    sound = noise("pink", 4 * N, default_rng(3))
    octaves = [power_db(sound, low, 2 * low) for low in (125, 250, 500, 1000, 2000)]
    assert max(octaves) - min(octaves) < 0.7


def test_compressor_hums_low_and_grinder_screams_high() -> None:
    compressor = noise("compressor", N, default_rng(4))
    grinder = noise("grinder", N, default_rng(4))
    assert power_db(compressor, 30, 500) > power_db(compressor, 1500, 6000) + 8
    assert power_db(grinder, 1500, 6000) > power_db(grinder, 30, 500) + 8


def test_air_line_is_brighter_than_a_fan() -> None:
    air, fan = noise("air", N, default_rng(5)), noise("fan", N, default_rng(5))
    assert power_db(air, 2000, 8000) > power_db(air, 30, 1000) + 6
    assert power_db(fan, 30, 1000) > power_db(fan, 2000, 8000) + 6


def test_radio_keeps_to_its_small_speakers_band() -> None:
    sound = noise("radio", N, default_rng(6), TALK)
    assert power_db(sound, 250, 4500) > power_db(sound, 4600, 8000) + 30


def test_impacts_are_peakier_than_steady_noise() -> None:
    def crest(sound: np.ndarray) -> float:
        return float(np.abs(sound).max() / np.sqrt(np.mean(sound**2)))

    assert crest(noise("impacts", N, default_rng(7))) > 1.5 * crest(noise("pink", N, default_rng(7)))


def test_babble_without_speech_is_refused_with_what_to_give() -> None:
    assert "babble" in NEEDS_TALK
    with pytest.raises(ValueError, match="give at least one clip"):
        noise("babble", RATE, default_rng(1))


def test_silent_talk_gives_silent_babble_rather_than_hanging() -> None:
    silent = [np.zeros(RATE, np.int16)]
    assert not noise("babble", RATE, default_rng(1), silent).any()


def test_active_level_leaves_pauses_out() -> None:
    speech = to_sound(speech_like())
    padded = np.concatenate([np.zeros(5 * RATE), speech, np.zeros(5 * RATE)])
    assert active_level_db(padded) == pytest.approx(active_level_db(speech), abs=0.3)
    assert level_db(padded) < level_db(speech) - 5


def test_active_level_follows_the_gain() -> None:
    speech = to_sound(speech_like())
    assert active_level_db(speech * 0.1) == pytest.approx(active_level_db(speech) - 20, abs=0.2)


def test_active_level_of_a_steady_tone_is_its_level() -> None:
    tone = 0.5 * np.sin(2 * np.pi * 440 * np.arange(4 * RATE) / RATE)
    assert active_level_db(tone) == pytest.approx(level_db(tone), abs=0.3)


@pytest.mark.parametrize("snr_db", [20.0, 10.0, 0.0])
def test_mix_puts_the_noise_where_it_was_asked_for(snr_db: float) -> None:
    speech = speech_like()
    hiss = noise("pink", len(speech), default_rng(8))
    added = to_sound(mix(speech, hiss, snr_db)) - to_sound(speech)
    assert active_level_db(to_sound(speech)) - level_db(added) == pytest.approx(snr_db, abs=0.1)


def test_mix_turns_down_rather_than_clips() -> None:
    loud = to_samples(to_sound(speech_like()) * 3)
    mixed = mix(loud, noise("pink", len(loud), default_rng(9)), -10)
    assert np.abs(mixed.astype(int)).max() < 32767


@pytest.mark.parametrize("kind", KINDS)
def test_spoil_gives_as_many_samples_as_it_got(kind: str) -> None:
    speech = speech_like()
    spoilt = spoil(speech, kind, None if kind == "none" else 10, default_rng(10), TALK)
    assert spoilt.dtype == np.int16
    assert spoilt.shape == speech.shape
    assert np.array_equal(spoilt, speech) == (kind == "none")


def test_spoil_without_a_ratio_is_refused() -> None:
    with pytest.raises(ValueError, match="signal-to-noise ratio"):
        spoil(speech_like(), "pink", None, default_rng(1))


def test_room_without_noise_only_reverberates() -> None:
    speech = speech_like()
    spoilt = to_sound(spoil(speech, "room", None, default_rng(11)))
    pause = slice(int(1.21 * RATE), int(1.3 * RATE))
    assert level_db(spoilt[pause]) > level_db(to_sound(speech)[pause]) + 20


def test_reverberation_keeps_length_and_level() -> None:
    speech = to_sound(speech_like())
    wet = reverberate(speech, default_rng(12), 0.5)
    assert wet.shape == speech.shape
    assert level_db(wet) == pytest.approx(level_db(speech), abs=0.1)


def test_direct_sound_comes_first_and_has_the_share_asked_for() -> None:
    response = room_response(default_rng(13), 0.4, direct_to_reverberant_db=6)
    assert response[0] == 1
    assert 10 * np.log10(1 / np.sum(response[1:] ** 2)) == pytest.approx(6, abs=0.01)
    assert not response[1 : int(0.003 * RATE)].any()


def test_clipping_cuts_the_peaks_only() -> None:
    speech = to_sound(speech_like())
    cut = clip(speech, 6)
    assert np.abs(cut).max() == pytest.approx(np.abs(speech).max() * 10 ** (-6 / 20))
    quiet = np.abs(speech) < np.abs(cut).max() * 0.99
    assert np.array_equal(cut[quiet], speech[quiet])


@pytest.mark.parametrize("snr_db", [25.0, 20.0, 15.0, 10.0, 5.0])
def test_the_noise_under_an_utterance_is_measured_within_two_decibels(snr_db):
    """Pink noise was mixed in at a known ratio; the utterance has a third of a second of it at both ends."""
    still = np.zeros(RATE // 3, np.int16)
    spoken = np.concatenate([still, speech_like(), still])
    found = over_noise_db(mix(spoken, noise("pink", len(spoken), default_rng(3)), snr_db))
    assert found == pytest.approx(snr_db, abs=2)


def test_silence_and_a_click_have_no_ratio():
    assert over_noise_db(np.zeros(RATE, np.int16)) is None
    assert over_noise_db(np.full(1000, 9000, np.int16)) is None
    assert over_noise_db(np.full(RATE, 9000, np.int16)) < 0  # no pause at all: nothing stands out
