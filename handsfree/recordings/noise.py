"""Synthetic workshop noises from a seeded generator, and the level of speech above them. Pure.

The noises imitate the spectrum and rhythm of the real ones and are not recorded. Every source returns (n,)
float64 at 16 kHz with a root mean square of 1.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence

import numpy as np
from numpy.random import Generator
from numpy.typing import NDArray

from handsfree.hear import SAMPLERATE_HZ, Samples

Signal = NDArray[np.float64]

_SMOOTHING_S = 0.03
_HANGOVER_S = 0.2
_MARGIN_DB = 15.9
_STEP_DB = 1.0
_SILENT_DB = -100.0
_BLOCK = 256
_STEP = 512  # samples: 32 ms
_FEWEST_STEPS = 10
_QUIETEST = 0.1


def to_sound(samples: Samples) -> Signal:
    """Return int16 samples as (n,) float64, full scale 1."""
    return samples.astype(np.float64) / 32768.0


def to_samples(sound: Signal) -> Samples:
    """Return float sound as (n,) int16, clipped at full scale."""
    return np.clip(np.rint(sound * 32768.0), -32768, 32767).astype(np.int16)


def level_db(sound: Signal) -> float:
    """Return the root mean square level, dB to full scale: a full-scale square wave is 0."""
    power = float(np.mean(sound**2)) if sound.size else 0.0
    return 10 * np.log10(power) if power > 10 ** (_SILENT_DB / 10) else _SILENT_DB


def active_level_db(sound: Signal, samplerate_hz: int = SAMPLERATE_HZ) -> float:
    """Return the active level of speech, without pauses, dB to full scale.

    It is like method B of ITU-T P.56 (from memory), not a certified meter: an envelope smoothed twice
    over 0.03 s, a hangover of 0.2 s, and the level at which the speech lies 15.9 dB above the threshold
    that decides what is speech. Silence gives -100.
    """
    if not sound.size or level_db(sound) <= _SILENT_DB:
        return _SILENT_DB
    envelope = _smoothed(np.abs(sound), samplerate_hz)
    energy = float(np.sum(sound**2))
    hangover = round(_HANGOVER_S * samplerate_hz)
    top_db = 20 * np.log10(float(envelope.max()))
    previous: tuple[float, float] | None = None
    for threshold_db in np.arange(top_db - _STEP_DB, _SILENT_DB, -_STEP_DB):
        active = _held(envelope >= 10 ** (threshold_db / 20), hangover)
        level = 10 * np.log10(energy / active)
        over = level - threshold_db - _MARGIN_DB
        if over >= 0:  # the margin was crossed between the last two thresholds: interpolate
            if previous is None:
                return float(level)
            share = previous[1] / (previous[1] - over)
            return float(previous[0] + share * (level - previous[0]))
        previous = (float(level), float(over))
    return level_db(sound)


def _smoothed(rectified: Signal, samplerate_hz: int) -> Signal:
    keep = math.exp(-1 / (_SMOOTHING_S * samplerate_hz))
    return _decayed(_decayed(rectified, keep), keep)


def _decayed(sound: Signal, keep: float) -> Signal:
    """Return y with y[n] = keep * y[n - 1] + (1 - keep) * x[n], from silence, a block at a time."""
    count = -(-len(sound) // _BLOCK)
    blocks = np.zeros((count, _BLOCK))
    blocks.reshape(-1)[: len(sound)] = sound
    powers = keep ** np.arange(_BLOCK + 1)
    steps = np.subtract.outer(np.arange(_BLOCK), np.arange(_BLOCK))
    within = blocks @ np.where(steps >= 0, (1 - keep) * powers[np.abs(steps)], 0.0).T
    carried, last = np.zeros(count), 0.0
    for number, end in enumerate(within[:, -1]):
        carried[number] = last
        last = end + powers[-1] * last
    return np.asarray((within + np.outer(carried, powers[1:])).reshape(-1)[: len(sound)], np.float64)


def _held(above: NDArray[np.bool_], hangover: int) -> int:
    """Return the number of samples that are above, or at most `hangover` after one that is."""
    where = np.flatnonzero(above)
    gaps = np.diff(where, append=len(above))
    return int(np.minimum(gaps, hangover + 1).sum())


def mix(speech: Samples, noise: Signal, snr_db: float) -> Samples:
    """Return `speech` plus `noise`, with an active level of speech `snr_db` above the noise's level.

    Args:
        speech: (n,) int16, 16 kHz mono.
        noise: (n,) float, any level.
        snr_db: active speech level minus the noise's root mean square level, dB.

    Returns:
        (n,) int16. A sum beyond full scale is turned down as a whole, so nothing is clipped.
    """
    clean = to_sound(speech)
    gain_db = active_level_db(clean) - snr_db - level_db(noise)
    sound = clean + noise * 10 ** (gain_db / 20)
    peak = float(np.abs(sound).max()) if sound.size else 0.0
    return to_samples(sound / peak * 0.99 if peak > 0.99 else sound)


def room_response(rng: Generator, rt60_s: float, direct_to_reverberant_db: float = 0.0) -> Signal:
    """Return the impulse response of a random room.

    Args:
        rng: places the reflections.
        rt60_s: reverberation time, in which sound falls by 60 dB, as defined in ISO 3382, seconds.
        direct_to_reverberant_db: energy of the direct sound over that of the reverberation: about 0 at a
            metre or two from the speaker in a workshop (common practice, no source).

    Returns:
        (m,) float64 at 16 kHz that begins with the direct sound, amplitude 1.
    """
    length = round(1.2 * rt60_s * SAMPLERATE_HZ)
    time = np.arange(length) / SAMPLERATE_HZ
    tail = rng.standard_normal(length) * 10 ** (-3 * time / rt60_s)
    tail[: round(0.003 * SAMPLERATE_HZ)] = 0  # no reflection from less than a metre away
    for _ in range(6):
        at = int(rng.uniform(0.003, 0.03) * SAMPLERATE_HZ)
        tail[at] += rng.choice([-1, 1]) * rng.uniform(1, 3)
    tail *= 10 ** (-direct_to_reverberant_db / 20) / np.sqrt(np.sum(tail**2))
    tail[0] = 1.0
    return tail


def reverberate(
    speech: Signal, rng: Generator, rt60_s: float, direct_to_reverberant_db: float = 0.0
) -> Signal:
    """Return speech with reverberation: (n,) in and out, without the tail, at the same level."""
    response = room_response(rng, rt60_s, direct_to_reverberant_db)
    size = 1 << (len(speech) + len(response)).bit_length()
    wet = np.fft.irfft(np.fft.rfft(speech, size) * np.fft.rfft(response, size), size)[: len(speech)]
    before, after = float(np.sum(speech**2)), float(np.sum(wet**2))
    wet *= np.sqrt(before / after) if after > 0 else 1.0
    peak = float(np.abs(wet).max()) if wet.size else 0.0
    return wet / peak * 0.99 if peak > 0.99 else wet


def clip(sound: Signal, above_db: float) -> Signal:
    """Return sound clipped at `above_db` below its peak, as by an overdriven microphone."""
    limit = (float(np.abs(sound).max()) if sound.size else 0.0) * 10 ** (-above_db / 20)
    return np.clip(sound, -limit, limit)


_LOWEST_HZ = 30.0


def pink(n: int, rng: Generator) -> Signal:
    """Return noise whose power falls by 3 dB an octave, from 30 Hz up."""
    return _shaped(n, rng, lambda hz: 1 / np.sqrt(hz))


def compressor(n: int, rng: Generator) -> Signal:
    """Return a piston compressor: the hum of its shaft with many harmonics, and valves that puff in time."""
    time = np.arange(n) / SAMPLERATE_HZ
    shaft_hz = rng.uniform(12, 17)
    wobble = 1 + 0.01 * _slow(n, rng, 0.7)
    turn = 2 * np.pi * np.cumsum(shaft_hz * wobble) / SAMPLERATE_HZ
    mains_hz = rng.choice([50.0, 60.0])
    hum = sum(
        np.cos(order * turn + rng.uniform(0, 2 * np.pi)) / order ** rng.uniform(0.5, 0.9)
        for order in range(2, 40)
    )
    motor = sum(np.cos(2 * np.pi * mains_hz * k * time + rng.uniform(0, 2 * np.pi)) / k for k in (2, 4, 6))
    puff = np.exp(-4 * (turn / np.pi % 1.0))  # two cylinders: two puffs a turn
    breath = _shaped(n, rng, lambda hz: 1 / (1 + (hz / 900) ** 2)) * puff
    return _unit(_unit(np.asarray(hum)) + 0.5 * _unit(np.asarray(motor)) + 0.7 * _unit(breath))


def grinder(n: int, rng: Generator) -> Signal:
    """Return a grinder: a band of noise about 3 kHz, gear whine above it, louder while the disc cuts."""
    centre_hz = rng.uniform(2200, 3800)
    band = _shaped(n, rng, lambda hz: 1 / (1 + (np.log2(hz / centre_hz) / 0.8) ** 4))
    whine_hz = rng.uniform(1200, 2200) * (1 + 0.02 * _slow(n, rng, 1.5))
    phase = 2 * np.pi * np.cumsum(whine_hz) / SAMPLERATE_HZ
    whine = sum(np.sin(order * phase) / order for order in (1, 2, 3))
    cutting = 1 + 0.6 * np.tanh(2 * _slow(n, rng, 1.0))
    return _unit((_unit(band) + 0.35 * _unit(np.asarray(whine))) * cutting)


def babble(n: int, rng: Generator, talk: Sequence[Samples], talkers: int = 6) -> Signal:
    """Return several people talking at once, cut from `talk`: (m,) int16 clips, repeated if needed."""
    if not talk:
        raise ValueError("babble needs speech to be made from: give at least one clip")
    voices = np.zeros(n)
    for _ in range(talkers):
        voice = np.zeros(0)
        while len(voice) < n:
            clip = to_sound(talk[int(rng.integers(len(talk)))])
            level = active_level_db(clip)
            voice = np.concatenate([voice, clip * 10 ** ((-26 - level) / 20)]) if level > -90 else np.zeros(n)
        start = int(rng.integers(len(voice) - n + 1))
        voices += voice[start : start + n] * 10 ** (rng.uniform(-3, 3) / 20)
    return _unit(voices)


def impacts(n: int, rng: Generator) -> Signal:
    """Return hammering and dropped metal: blows a second or less apart, each ringing at its own pitches."""
    sound = 0.02 * pink(n, rng)
    at = int(rng.uniform(0, 0.4) * SAMPLERATE_HZ)
    while at < n:
        length = min(n - at, int(0.4 * SAMPLERATE_HZ))
        time = np.arange(length) / SAMPLERATE_HZ
        blow = rng.standard_normal(length) * np.exp(-time / 0.004)
        for _ in range(int(rng.integers(4, 9))):
            hz, fade_s = rng.uniform(250, 6500), rng.uniform(0.01, 0.12)
            blow += rng.uniform(0.2, 1) * np.sin(2 * np.pi * hz * time) * np.exp(-time / fade_s)
        sound[at : at + length] += blow * rng.uniform(0.4, 1.0)
        at += int(rng.uniform(0.15, 0.9) * SAMPLERATE_HZ)
    return _unit(sound)


def air_line(n: int, rng: Generator) -> Signal:
    """Return an air line: a steady leak, and bursts from a blow gun."""
    hiss = _shaped(n, rng, lambda hz: (hz / 3000) / np.sqrt(1 + (hz / 4500) ** 4))
    burst = np.clip(4 * _slow(n, rng, 1.5), 0, 1)
    return _unit(hiss * (0.15 + burst))


def fan(n: int, rng: Generator) -> Signal:
    """Return an extractor fan: a broad rush that falls with pitch, and the beat of its blades."""
    time = np.arange(n) / SAMPLERATE_HZ
    rush = _shaped(n, rng, lambda hz: 1 / (1 + (hz / 350) ** 1.3))
    blade_hz = rng.uniform(70, 180)
    beat = sum(np.cos(2 * np.pi * blade_hz * k * time + rng.uniform(0, 2 * np.pi)) / k for k in range(1, 6))
    return _unit(_unit(rush) + 0.4 * _unit(np.asarray(beat)))


def radio(n: int, rng: Generator, talk: Sequence[Samples] = ()) -> Signal:
    """Return a small radio across the room: changing chords, and a voice over them if `talk` has one."""
    time = np.arange(n) / SAMPLERATE_HZ
    music = np.zeros(n)
    at, root_hz = 0, rng.uniform(110, 220)
    while at < n:
        length = min(n - at, int(rng.uniform(0.3, 0.9) * SAMPLERATE_HZ))
        here, fade = slice(at, at + length), np.minimum(1, (np.arange(length) + 1) / 800)
        for step in rng.choice([0, 3, 4, 5, 7, 9, 12, 16], size=3, replace=False):
            hz = root_hz * 2 ** (step / 12)
            for order in range(1, 7):
                music[here] += np.sin(2 * np.pi * hz * order * time[here]) * fade / order
        at += length
    sound = _unit(music)
    if talk:
        sound = 0.5 * sound + babble(n, rng, talk, talkers=1)
    spectrum = np.fft.rfft(sound)
    hz = np.fft.rfftfreq(n, 1 / SAMPLERATE_HZ)
    spectrum[(hz < 250) | (hz > 4500)] = 0
    return _unit(np.fft.irfft(spectrum, n))


def several(n: int, rng: Generator, talk: Sequence[Samples] = ()) -> Signal:
    """Return three sources at once, each coming and going."""
    sound = 0.2 * pink(n, rng)
    kinds = [kind for kind in SOURCES if kind not in ("pink", "several") and (talk or kind != "babble")]
    for kind in rng.choice(kinds, size=3, replace=False):
        sound += noise(str(kind), n, rng, talk) * np.clip(0.6 + 1.2 * _slow(n, rng, 2.5), 0, None)
    return _unit(sound)


SOURCES: dict[str, Callable[..., Signal]] = {
    "pink": pink,
    "compressor": compressor,
    "grinder": grinder,
    "babble": babble,
    "impacts": impacts,
    "air": air_line,
    "fan": fan,
    "radio": radio,
    "several": several,
}
NEEDS_TALK = frozenset({"babble"})
TAKES_TALK = frozenset({"babble", "radio", "several"})
KINDS = ("none", *SOURCES, "room")


def noise(kind: str, n: int, rng: Generator, talk: Sequence[Samples] = ()) -> Signal:
    """Return `n` samples of a kind in `SOURCES`; `talk` is speech for the kinds that contain some."""
    source = SOURCES[kind]
    return source(n, rng, talk) if kind in TAKES_TALK else source(n, rng)


def spoil(
    samples: Samples, kind: str, snr_db: float | None, rng: Generator, talk: Sequence[Samples] = ()
) -> Samples:
    """Return speech degraded by noise: (n,) int16 in and out.

    Args:
        samples: (n,) int16, 16 kHz mono.
        kind: one of `KINDS`. "none" changes nothing; "room" is a reverberant room of 0.3 to 0.6 s with
            pink noise in it.
        snr_db: active speech level over the noise's level, dB; None only for "none", or a silent "room".
        rng: the source of all randomness.
        talk: clips for the kinds that contain speech.
    """
    if kind == "none":
        return samples
    if kind == "room":
        wet = to_samples(reverberate(to_sound(samples), rng, rt60_s=float(rng.uniform(0.3, 0.6))))
        return wet if snr_db is None else mix(wet, pink(len(wet), rng), snr_db)
    if snr_db is None:
        raise ValueError(f'noise "{kind}" needs a signal-to-noise ratio in dB')
    return mix(samples, noise(kind, len(samples), rng, talk), snr_db)


def _unit(sound: Signal) -> Signal:
    rms = float(np.sqrt(np.mean(sound**2))) if sound.size else 0.0
    return sound / rms if rms > 0 else sound


def _shaped(n: int, rng: Generator, gain: Callable[[Signal], Signal]) -> Signal:
    """Return white noise through a filter given as amplitude by frequency; nothing below 30 Hz."""
    spectrum = np.fft.rfft(rng.standard_normal(n))
    hz = np.asarray(np.fft.rfftfreq(n, 1 / SAMPLERATE_HZ), np.float64)
    heard = hz >= _LOWEST_HZ
    spectrum[~heard] = 0
    spectrum[heard] *= gain(hz[heard])
    return _unit(np.fft.irfft(spectrum, n))


def _slow(n: int, rng: Generator, seconds: float) -> Signal:
    """Return a smooth random curve about 0, mostly within -1..1, that turns every `seconds`."""
    knots = rng.uniform(-1, 1, int(n / SAMPLERATE_HZ / seconds) + 3)
    start = rng.uniform(0, 1)
    return np.interp(start + np.arange(n) / SAMPLERATE_HZ / seconds, np.arange(len(knots)), knots)


def over_noise_db(samples: Samples) -> float | None:
    """Return how far the speech of an utterance lies above the noise in its pauses, dB; None for silence.

    samples: (n,) int16, 16 kHz mono, as the endpointer cuts them, with sound of the room at both ends. The
    noise is the level of the quietest tenth of the sound, in steps of 32 ms: steady noise is measured so;
    blows between the words count as speech.
    """
    sound = to_sound(samples)
    steps = len(sound) // _STEP
    if steps < _FEWEST_STEPS or level_db(sound) <= _SILENT_DB:
        return None
    powers = np.sort(np.mean(sound[: steps * _STEP].reshape(steps, _STEP) ** 2, axis=1))
    noise = max(float(np.mean(powers[: max(2, round(steps * _QUIETEST))])), 10 ** (_SILENT_DB / 10))
    speech = 10 ** (active_level_db(sound) / 10) - noise
    return 10 * float(np.log10(max(speech, noise * 0.1) / noise))
