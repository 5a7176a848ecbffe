"""Workshop noise, rooms and poor microphones for training, in JAX, a batch at a time.

Synthesised: broadband noise of any slope, throbbing bands (grinders, air lines), hums with harmonics
(compressors, fans), impacts, babble of other clips, several at once and intermittent. Recorded: the bank's
noises, and impulse responses of rooms, loudspeakers and microphones.
"""

from __future__ import annotations

import math

import jax
import jax.numpy as jnp
from jax import Array

from handsfree.sound_format import SAMPLERATE_HZ as RATE_HZ

HARMONICS = 15
RECORDED = 0.35  # share of the batch with recorded noise
IN_RECORDED_ROOMS, IN_ROOMS = 0.15, 0.4  # share of the batch in rooms


class Draw:
    """A stream of random numbers for one batch: each call uses a new key."""

    def __init__(self, key: Array, count: int) -> None:
        self._key = key
        self.count = count

    def key(self) -> Array:
        """Return an unused key."""
        self._key, key = jax.random.split(self._key)
        return key  # type: ignore[no-any-return]  # split gives an iterable of arrays

    def uniform(self, low: float, high: float, *shape: int) -> Array:
        """Draw (count, 1) or (count, *shape) numbers in a range."""
        return jax.random.uniform(self.key(), (self.count, *(shape or (1,))), minval=low, maxval=high)

    def normal(self, *shape: int) -> Array:
        """Draw (count, *shape) standard normal numbers."""
        return jax.random.normal(self.key(), (self.count, *shape))

    def chance(self, share: float) -> Array:
        """Draw (count, 1) booleans, True for a share of the batch."""
        return self.uniform(0, 1) < share


def noises(draw: Draw, length: int, talkers: Array, recorded: Array | None = None) -> Array:
    """Return noise (count, length) at unit power.

    talkers: (4, count, length) other clips, for babble. recorded: (count, length) recorded noise, for a
    third of the batch; where a row is silent, the synthesised noise stays.
    """
    voices = jnp.concatenate([talkers, jnp.roll(talkers, (1, length // 3), (1, 2))])
    f = jnp.fft.rfftfreq(length, 1 / RATE_HZ)[None]
    t = jnp.arange(length)[None] / RATE_HZ
    white = jnp.fft.rfft(draw.normal(length))
    broad = jnp.fft.irfft(white * (jnp.maximum(f, 20) / 1000) ** -draw.uniform(-0.3, 1.3), length)
    centre = jnp.exp(draw.uniform(math.log(150), math.log(6500)))
    width = centre * draw.uniform(0.1, 1.1)
    throb = 1 + draw.uniform(0, 0.9) * jnp.sin(2 * math.pi * draw.uniform(0.5, 18) * t + draw.uniform(0, 6.3))
    band = jnp.fft.irfft(white / (1 + ((f - centre) / width) ** 2), length) * throb
    base, wobble = draw.uniform(23, 145), 1 + 0.002 * jnp.sin(t * 3)
    phase, strength = draw.uniform(0, 6.3, HARMONICS), draw.uniform(0, 1, HARMONICS)

    def harmonic(k: Array, total: Array) -> Array:
        turn = 2 * math.pi * base * (k + 1) * t * wobble + phase[:, k][:, None]
        return total + jnp.sin(turn) * strength[:, k][:, None] / jnp.sqrt(k + 1.0)

    hum = jax.lax.fori_loop(0, HARMONICS, harmonic, draw.uniform(0.1, 0.8) * _unit(broad))
    hits = (draw.uniform(0, 1, length) < draw.uniform(2e-5, 2.5e-4)) * draw.normal(length)
    impact = _filtered(hits, _ring(draw)) + 0.02 * _unit(broad) * jnp.std(hits)
    number = jax.random.randint(draw.key(), (1, draw.count, 1), 1, len(voices) + 1)
    voices = voices / (jnp.sqrt(jnp.square(voices).mean(2, keepdims=True)) + 1e-4)
    babble = (voices * (jnp.arange(len(voices))[:, None, None] < number)).sum(0) + 0.05 * draw.normal(length)
    kinds = jnp.stack([_unit(n) for n in (broad, band, hum, impact, babble, _whine(draw, t, band))])
    rows = jnp.arange(draw.count)
    first, second = (
        kinds[jax.random.randint(draw.key(), (draw.count,), 0, len(kinds)), rows] for _ in range(2)
    )
    if recorded is not None:
        there = jnp.square(recorded).mean(1, keepdims=True) > 0
        first = jnp.where(draw.chance(RECORDED) & there, _unit(recorded), first)
    mix = first + second * draw.chance(0.35) * draw.uniform(0.3, 1)
    edge = draw.uniform(0.1, 0.9) * length / RATE_HZ
    gate = jax.nn.sigmoid((t - edge) * 40 * jnp.where(draw.chance(0.5), 1, -1))
    return _unit(jnp.where(draw.chance(0.2), mix * gate, mix))


def _ring(draw: Draw) -> Array:
    """Synthesise struck metal: a click, and a few pitches, each with its own decay."""
    t = jnp.arange(6400)[None] / RATE_HZ
    click = draw.normal(6400) * jnp.exp(-t / draw.uniform(0.0005, 0.006)) * draw.uniform(0, 1)
    pitches = (
        jnp.exp(-t * draw.uniform(12, 240))
        * jnp.sin(2 * math.pi * t * draw.uniform(250, 6500))
        * draw.uniform(0, 1)
        for _ in range(4)
    )
    return sum(pitches, click)


def _whine(draw: Draw, t: Array, band: Array) -> Array:
    """Synthesise gears and blades: three partials of a wandering pitch over the band, at a changing load."""
    speed = 1 + 0.04 * jnp.sin(2 * math.pi * draw.uniform(0.1, 1.2) * t + draw.uniform(0, 6.3))
    turn = 2 * math.pi * jnp.cumsum(draw.uniform(400, 2600) * speed, 1) / RATE_HZ
    partials = sum((jnp.sin(k * turn) * draw.uniform(0, 1) / k for k in (1, 2, 3)), jnp.zeros_like(t))
    load = 1 + 0.7 * jnp.sin(2 * math.pi * draw.uniform(0.1, 1.5) * t + draw.uniform(0, 6.3))
    return (_unit(band) + draw.uniform(0.1, 0.8) * _unit(partials)) * load


def rooms(draw: Draw, sound: Array, share: float = IN_ROOMS) -> Array:
    """Put a share of the batch into reverberant rooms of 0.1 to 0.8 s, some with few early reflections."""
    t = jnp.arange(11_200)[None] / RATE_HZ
    fade = jnp.exp(-6.9 * t / draw.uniform(0.1, 0.8)) * 0.12 * draw.uniform(0, 1)
    dense = jnp.minimum(1, t / draw.uniform(0.001, 0.08) + 0.01)
    struck = draw.uniform(0, 1, t.shape[1]) < dense
    response = draw.normal(t.shape[1]) * struck / jnp.sqrt(dense) * fade
    return jnp.where(draw.chance(share), _filtered(sound, response.at[:, 0].set(1.0)), sound)


def recorded_rooms(draw: Draw, sound: Array, response: Array, share: float = IN_RECORDED_ROOMS) -> Array:
    """Put a share of the batch into measured rooms, loudspeakers and microphones: (count, taps)."""
    here = draw.chance(share) & (jnp.abs(response).max(1, keepdims=True) > 0)
    return jnp.where(here, scaled(_filtered(sound, response)), sound)


def microphones(draw: Draw, sound: Array) -> Array:
    """Band-limit, tilt or clip some of the batch, like telephones and cheap or distant microphones."""
    length = sound.shape[1]
    f = jnp.fft.rfftfreq(length, 1 / RATE_HZ)[None]
    low = jnp.where(draw.chance(0.2), draw.uniform(80, 350), -1000.0)
    high = jnp.where(draw.chance(0.2), draw.uniform(3000, 7000), 9500.0)
    telephone = draw.chance(0.1)
    low, high = jnp.where(telephone, 300.0, low), jnp.where(telephone, 3400.0, high)
    shape = jax.nn.sigmoid((f - low) / 30) * jax.nn.sigmoid((high - f) / 150)
    tilt = (jnp.maximum(f, 50) / 1000) ** jnp.where(draw.chance(0.5), draw.uniform(-0.25, 0.25), 0.0)
    out = jnp.fft.irfft(jnp.fft.rfft(sound) * shape * tilt, length)
    peak = jnp.abs(out).max(1, keepdims=True)
    limit = peak * jnp.where(draw.chance(0.1), draw.uniform(0.15, 0.6), 1.0)
    return jnp.clip(out, -limit, limit)


def faint(draw: Draw, sound: Array) -> Array:
    """Scale the batch to a peak of -6 to -40 dB relative to full scale, quantised to 16 bits."""
    most = jnp.maximum(jnp.abs(sound).max(1, keepdims=True), 1e-6)
    steps = 32768 * 10 ** (-draw.uniform(6, 40) / 20) / most
    return jnp.round(sound * steps) / steps


def degrade(
    key: Array,
    clean: Array,
    talkers: Array,
    recorded: Array | None = None,
    response: Array | None = None,
    clean_share: float = 0.15,
) -> Array:
    """Return a noisy copy of (count, length) clips, at -3 to 27 dB to the active speech level.

    recorded: (count, length) of recorded noise. response: (count, taps) of measured rooms and microphones.
    """
    draw = Draw(key, clean.shape[0])
    active = jnp.abs(clean) > 0.02
    power = (jnp.square(clean) * active).sum(1, keepdims=True)
    level = jnp.sqrt(power / jnp.maximum(active.sum(1, keepdims=True), 1))
    noise = noises(draw, clean.shape[1], talkers, recorded) * level * 10 ** (-draw.uniform(-3, 27) / 20)
    spoken = clean if response is None else recorded_rooms(draw, clean, response)
    heard = faint(draw, microphones(draw, rooms(draw, spoken) + noise))
    return scaled(jnp.where(draw.chance(clean_share), clean, heard))


def scaled(sound: Array) -> Array:
    """Scale to a peak of one half, as `handsfree.hear.phrase_model` does."""
    return sound * (0.5 / jnp.maximum(jnp.abs(sound).max(1, keepdims=True), 1e-3))


def _filtered(sound: Array, response: Array) -> Array:
    length = sound.shape[1]
    size = length + response.shape[1]
    return jnp.fft.irfft(jnp.fft.rfft(sound, size) * jnp.fft.rfft(response, size), size)[:, :length]


def _unit(x: Array) -> Array:
    return x / (jnp.sqrt(jnp.square(x).mean(1, keepdims=True)) + 1e-6)
