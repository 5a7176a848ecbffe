"""The clips that training draws from, each heard as the bench would cut it out of the room's sound.

A batch is an array as wide as its longest clip may be, but what is heard of a row is as long as the row's
own clip: the networks are told where it ends (`network.encode`). Padded clips would teach them that all
speech is as long as the array, and they would miss the beginnings of short commands.
"""

from __future__ import annotations

from pathlib import Path
from typing import Any

import jax.numpy as jnp
import numpy as np
from jax import Array
from numpy.typing import NDArray

from handsfree.training.shop_noise import RATE_HZ, degrade, scaled

BUCKETS = ((3.3, 1.0), (7.6, 0.5))  # seconds of the longest clip and its silence, share of a whole batch
END = 2
LEAD_S, TAIL_S = 0.25, 0.4  # most of what the endpoint leaves before and after speech; what is whole fits
VARIED = 0.6  # share of a batch that is played faster or slower, hence higher or lower, anew each time
SLOWEST, FASTEST = 0.86, 1.17


class Bank:
    """Clips in buckets of length; a batch is of one bucket.

    The file: sound (total,) int16; start and length of each clip; weight of each clip's distillation
    and transcript loss; tokens (clips, 2, longest), padded with the end mark: the transcript in words
    and in numerals, all end marks where there is none.
    """

    def __init__(self, path: Path, batch: int) -> None:
        data = np.load(path)
        self._tokens: NDArray[np.int64] = data["tokens"].astype(np.int64)
        self._distil, self._write = data["distil"], data["write"]
        start, length, sound = data["start"], data["length"], data["sound"]
        self.rows: list[Array] = []
        self.sizes: list[int] = []
        self._lengths: list[NDArray[np.int64]] = []
        self._clips: list[NDArray[np.int64]] = []
        self._steps: list[int] = []
        shortest = 0
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
            self._steps.append(1 + int((self._tokens[chosen] != END).sum(2).max()))
        counts = np.array([len(c) / size for c, size in zip(self._clips, self.sizes, strict=True)])
        self.odds = counts / counts.sum()

    @property
    def counts(self) -> list[int]:
        """How many clips are in each bucket."""
        return [len(clips) for clips in self._clips]

    def pick(self, draw: np.random.Generator) -> tuple[int, dict[str, Any]]:
        """Choose a bucket and a batch of it: rows, speeds, where speech begins and sound ends, and so on."""
        bucket = int(draw.choice(len(self.odds), p=self.odds))
        number, count = len(self._clips[bucket]), self.sizes[bucket]
        rows = draw.integers(0, number, count)
        clips = self._clips[bucket][rows]
        width, whole = self.rows[bucket].shape[1], self._lengths[bucket][rows]
        speeds = np.exp(draw.uniform(np.log(SLOWEST), np.log(FASTEST), count))
        speeds = np.maximum(np.where(draw.random(count) < VARIED, speeds, 1.0), whole / width)
        said = np.floor(whole / speeds).astype(np.int64)
        lead, tail = (np.maximum(0, draw.uniform(-0.5, 1, count)) * most for most in (LEAD_S, TAIL_S))
        room = width - said
        leads = np.minimum((lead * RATE_HZ).astype(np.int64), room)
        tails = np.minimum((tail * RATE_HZ).astype(np.int64), room - leads)
        return bucket, {
            "rows": rows,
            "speeds": speeds.astype(np.float32),
            "leads": leads,
            "lengths": leads + said + tails,
            "babble": draw.integers(0, number, (4, count)),
            "tokens": self._tokens[clips][..., : self._steps[bucket]],
            "distil": self._distil[clips],
            "write": self._write[clips],
        }


def clean_and_noisy(bank_rows: Array, batch: dict[str, Array], key: Array) -> tuple[Array, Array]:
    """A batch's sound, twice (clips, samples): as it is, and with a shop round it. Nothing after its end."""
    size = bank_rows.shape[1]
    at = jnp.arange(size)[None]
    sound = bank_rows[batch["rows"]].astype(jnp.float32) / 32768
    clean = scaled(_played(sound, at - batch["leads"][:, None], batch["speeds"][:, None]))
    talkers = bank_rows[batch["babble"]].astype(jnp.float32) / 32768
    noisy = degrade(key, clean, talkers)
    heard = at < batch["lengths"][:, None]
    return clean * heard, scaled(noisy * heard)


def _played(sound: Array, at: Array, speeds: Array) -> Array:
    """Sound at so many times its speed: (clips, samples), silent before 0 and after its end."""
    place = at * speeds
    before = jnp.floor(place).astype(jnp.int32)
    last = sound.shape[1] - 1
    here, next_one = (jnp.take_along_axis(sound, jnp.clip(before + n, 0, last), 1) for n in (0, 1))
    mixed = here + (next_one - here) * (place - before)
    return jnp.where((at >= 0) & (before <= last), mixed, 0.0)
