"""The training clips, each endpointed as the bench would do it.

A batch is an array as wide as the longest possible clip, but the networks get the end of each row's own
clip (`network.encode`). Padded clips would teach them that all speech is as long as the array, and they
would miss the beginnings of short commands.
"""

from __future__ import annotations

from collections.abc import Collection
from functools import partial
from pathlib import Path
from typing import Any

import jax
import jax.numpy as jnp
import numpy as np
from jax import Array
from numpy.typing import NDArray

from handsfree.sound_format import SAMPLERATE_HZ as RATE_HZ
from handsfree.training.shop_noise import degrade, scaled

BUCKETS = ((3.3, 1.0), (7.6, 0.5))  # seconds of the longest clip and its silence, share of a whole batch
STEPS = (32, 64)  # tokens of the longest transcript in each bucket, its end mark among them
END = 2
TALKERS = 4  # number of other clips for babble
LEAD_S, TAIL_S = 0.25, 0.4  # longest silence left by the endpointer before and after speech
VARIED = 0.6  # share of a batch that is played faster or slower, hence at another pitch
SLOWEST, FASTEST = 0.86, 1.17


class Bank:
    """Clips in buckets by length; a batch comes from one bucket.

    The file: sound (total,) int16; start and length of each clip; weight of each clip's distillation
    and transcript loss; tokens (clips, 2, longest), padded with the end mark: the two ways to write the
    transcript, all end marks where there is none. Optional arrays are odds: sampling weights of the clips;
    noise: (rows, samples) int16 of recorded noises; room: (rooms, taps) float32 of impulse responses; kind
    of each clip.

    without: kinds of clips whose transcripts are not learned.
    """

    def __init__(self, path: Path, batch: int, without: Collection[str] = ()) -> None:
        data = np.load(path)
        self._tokens: NDArray[np.int64] = data["tokens"].astype(np.int64)
        self._distil, self._write = data["distil"], data["write"].copy()
        start, length, sound = data["start"], data["length"], data["sound"]
        odds = data["odds"] if "odds" in data.files else np.ones(len(length))
        if without:
            self._write[np.isin(data["kind"], list(without))] = 0
        self._noise = jnp.asarray(data["noise"]) if "noise" in data.files else jnp.zeros((0, 1), jnp.int16)
        self._room = jnp.asarray(data["room"]) if "room" in data.files else jnp.zeros((0, 1), jnp.float32)
        self.rows: list[Array] = []
        self.sizes: list[int] = []
        self._lengths: list[NDArray[np.int64]] = []
        self._clips: list[NDArray[np.int64]] = []
        self._odds: list[NDArray[np.float64]] = []
        shortest = 0
        counts = []
        for seconds, share in BUCKETS:
            room = int((seconds - (LEAD_S + TAIL_S) / 2) * RATE_HZ)
            chosen = np.flatnonzero((length > shortest) & (length <= room))
            shortest = room
            if not len(chosen):
                continue
            rows = np.zeros((len(chosen), int(seconds * RATE_HZ)), np.int16)
            for row, clip in enumerate(chosen):
                rows[row, : length[clip]] = sound[start[clip] : start[clip] + length[clip]]
            self.rows.append(jnp.asarray(rows))
            self.sizes.append(max(1, int(batch * share)))
            self._lengths.append(length[chosen].astype(np.int64))
            self._clips.append(chosen)
            mine = odds[chosen].astype(np.float64)
            counts.append(mine.sum() / self.sizes[-1])
            self._odds.append(mine / mine.sum())
        self.odds = np.array(counts) / sum(counts)

    @property
    def counts(self) -> list[int]:
        """The number of clips in each bucket."""
        return [len(clips) for clips in self._clips]

    def pick(self, draw: np.random.Generator) -> tuple[int, dict[str, Any]]:
        """Choose a bucket and a batch of it: rows, speeds, start of speech, end of sound, and so on."""
        bucket = int(draw.choice(len(self.odds), p=self.odds))
        number, count = len(self._clips[bucket]), self.sizes[bucket]
        rows = draw.choice(number, count, p=self._odds[bucket])
        clips = self._clips[bucket][rows]
        width, whole = self.rows[bucket].shape[1], self._lengths[bucket][rows]
        speeds = np.exp(draw.uniform(np.log(SLOWEST), np.log(FASTEST), count))
        speeds = np.maximum(np.where(draw.random(count) < VARIED, speeds, 1.0), whole / width)
        said = np.floor(whole / speeds).astype(np.int64)
        lead, tail = (np.maximum(0, draw.uniform(-0.5, 1, count)) * most for most in (LEAD_S, TAIL_S))
        room = width - said
        leads = np.minimum((lead * RATE_HZ).astype(np.int64), room)
        tails = np.minimum((tail * RATE_HZ).astype(np.int64), room - leads)
        longest = next(
            steps for (seconds, _), steps in zip(BUCKETS, STEPS, strict=True) if seconds * RATE_HZ >= width
        )
        return bucket, {
            "rows": rows,
            "speeds": speeds.astype(np.float32),
            "leads": leads,
            "lengths": leads + said + tails,
            "babble": draw.integers(0, number, (TALKERS, count)),
            "noises": draw.integers(0, max(1, len(self._noise)), count),
            "shifts": draw.integers(0, RATE_HZ * 7, count),
            "rooms": draw.integers(0, max(1, len(self._room)), count),
            "tokens": _to_width(self._tokens[clips], longest),
            "distil": self._distil[clips],
            "write": self._write[clips],
        }

    def batch(self, draw: np.random.Generator) -> dict[str, Array]:
        """Return a batch with its sound; its shapes depend only on the bucket.

        sound (clips, samples), talkers (4, clips, samples) and recorded (clips, samples, noise) int16;
        response (clips, taps) float32, all zeros where no rooms were recorded; speeds, leads, lengths,
        tokens, distil and write.
        """
        bucket, picked = self.pick(draw)
        given = {name: jnp.asarray(value) for name, value in picked.items()}
        sound, talkers = _taken(self.rows[bucket], given.pop("rows"), given.pop("babble"))
        which, shifts, rooms = given.pop("noises"), given.pop("shifts"), given.pop("rooms")
        recorded = jnp.zeros_like(sound)
        if len(self._noise):
            recorded = _turned(self._noise, which, shifts, sound.shape[1])
        response = self._room[rooms] if len(self._room) else jnp.zeros((len(sound), 1), jnp.float32)
        return given | {"sound": sound, "talkers": talkers, "recorded": recorded, "response": response}


@jax.jit
def _taken(bank: Array, rows: Array, babble: Array) -> tuple[Array, Array]:
    return bank[rows], bank[babble]


@partial(jax.jit, static_argnames="width")
def _turned(noise: Array, rows: Array, shifts: Array, width: int) -> Array:
    """Return rows of noise, each from an offset of its own and wrapped around at its end."""
    places = (shifts[:, None] + jnp.arange(width)[None]) % noise.shape[1]
    return noise[rows[:, None], places]


def _to_width(tokens: NDArray[np.int64], width: int) -> NDArray[np.int64]:
    """Return tokens (clips, 2, steps), padded to a given width so that only one size is compiled."""
    short = tokens[..., :width]
    return np.pad(short, ((0, 0), (0, 0), (0, width - short.shape[2])), constant_values=END)


def clean_and_noisy(batch: dict[str, Array], key: Array) -> tuple[Array, Array]:
    """Return a batch's sound twice (clips, samples), clean and in a shop; silent after each clip's end."""
    size = batch["sound"].shape[1]
    at = jnp.arange(size)[None]
    sound = batch["sound"].astype(jnp.float32) / 32768
    clean = scaled(_played(sound, at - batch["leads"][:, None], batch["speeds"][:, None]))
    talkers, recorded = (batch[name].astype(jnp.float32) / 32768 for name in ("talkers", "recorded"))
    noisy = degrade(key, clean, talkers, recorded, batch["response"])
    heard = at < batch["lengths"][:, None]
    return clean * heard, scaled(noisy * heard)


def _played(sound: Array, at: Array, speeds: Array) -> Array:
    """Resample sound to a multiple of its speed: (clips, samples), silent before 0 and after its end."""
    place = at * speeds
    before = jnp.floor(place).astype(jnp.int32)
    last = sound.shape[1] - 1
    here, next_one = (jnp.take_along_axis(sound, jnp.clip(before + n, 0, last), 1) for n in (0, 1))
    mixed = here + (next_one - here) * (place - before)
    return jnp.where((at >= 0) & (before <= last), mixed, 0.0)
