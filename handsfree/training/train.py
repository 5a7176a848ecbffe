"""Train the encoder on noisy sound, with the decoder frozen.

    python -m handsfree.training.train DATA OUT --seconds 600

DATA holds enc.npz and dec.npz (weights as arrays), clips.npz (see `bank`), ref.npz (a check that
these functions equal the packaged network). OUT gets the weights as half-precision arrays, and a log.

Two losses. Distillation: the student's output for the noisy copy must match the teacher's for the clean
sound (no transcript needed; it keeps the model's knowledge of speakers). Transcript: the frozen decoder
must find a clip's transcript likely, in words or in numerals, whichever it prefers.
"""

from __future__ import annotations

import argparse
from functools import partial
from pathlib import Path
from typing import Any

import jax
import jax.numpy as jnp
import numpy as np
from jax import Array

from handsfree.training.clips import END, Bank, clean_and_noisy
from handsfree.training.network import decode, encode, frames_of
from handsfree.training.training import Moments, Tree, adam, add_options, learn, load_weights, save_learned

INNER = (2, 4)
START = 1


def transcript_loss(decoder: Tree, encoded: Array, frames: Array, tokens: Array, weight: Array) -> Array:
    """Return the mean over clips of the negative log-probability per token, of both transcripts together.

    frames: (clips,) valid frames of `encoded`. tokens: (clips, 2, steps). weight: (clips,), 0 without a
    transcript.
    """
    count, ways, steps = tokens.shape
    flat = tokens.reshape(count * ways, steps)
    fed = jnp.concatenate([jnp.full_like(flat[:, :1], START), flat[:, :-1]], 1)
    sound = jnp.repeat(encoded, ways, 0), jnp.repeat(frames, ways, 0)
    logits = decode(decoder, fed, *sound).astype(jnp.float32)
    logp = jnp.take_along_axis(logits, flat[..., None], 2)[..., 0] - jax.nn.logsumexp(logits, -1)
    counted = jnp.concatenate([jnp.ones_like(flat[:, :1]), (flat[:, :-1] != END).astype(flat.dtype)], 1)
    total = (logp * counted).sum(1).reshape(count, ways)
    size = counted.sum(1).reshape(count, ways).mean(1)
    return (-jax.nn.logsumexp(total, 1) / size * weight).sum() / jnp.maximum(weight.sum(), 1e-3)


@partial(jax.jit, donate_argnums=(0, 1, 2))
def train_step(
    student: Tree,
    moments: tuple[Tree, Tree],
    averaged: Tree,
    teacher: Tree,
    decoder: Tree,
    batch: dict[str, Array],
    key: Array,
    step: Array,
    rate: Array,
    write: Array,
    pull: Array,
) -> tuple[Tree, tuple[Tree, Tree], Tree, Array]:
    """Take one step of Adam; return weights, moments, averaged weights and the three losses."""
    clean, noisy = clean_and_noisy(batch, key)
    lengths = batch["lengths"]
    frames = frames_of(lengths)
    half = partial(jax.tree.map, lambda x: x.astype(jnp.bfloat16))
    wanted, inner_wanted = encode(half(teacher), clean.astype(jnp.bfloat16), INNER, lengths)

    def losses(weights: Tree) -> tuple[Array, Array]:
        answered, inner = encode(half(weights), noisy.astype(jnp.bfloat16), INNER, lengths)
        apart = _apart(answered, wanted, frames, batch["distil"])
        for mine, theirs in zip(inner, inner_wanted, strict=True):
            apart += 0.3 * _apart(mine, theirs, frames, batch["distil"])
        written = transcript_loss(half(decoder), answered, frames, batch["tokens"], batch["write"])
        pulled = sum(jnp.square(v - teacher[k]).sum() for k, v in weights.items())
        return apart + write * written + pull * pulled, jnp.stack([apart, written, pulled])

    gradients, parts = jax.grad(losses, has_aux=True)(student)
    return (*adam(student, moments, averaged, gradients, step, rate), parts)


def _apart(mine: Array, theirs: Array, frames: Array, weight: Array) -> Array:
    """Return the weighted squared distance in units of the teacher's variance, over the valid frames."""
    mine, theirs = mine.astype(jnp.float32), theirs.astype(jnp.float32)
    counted = (jnp.arange(mine.shape[1])[None] < frames[:, None])[..., None]
    each = (jnp.square(mine - theirs) * counted).sum((1, 2)) / (frames * mine.shape[2])
    return (each * weight).sum() / jnp.maximum(weight.sum(), 1e-3) / theirs.var(where=counted)


def check_network(encoder: Tree, decoder: Tree, reference: Path) -> tuple[float, float]:
    """Return the agreement of these functions with the packaged files: two correlations.

    Raises:
        SystemExit: when they differ.
    """
    data = np.load(reference)
    mine = np.asarray(encode(encoder, jnp.asarray(data["x"])[None])[0])
    logits = np.asarray(decode(decoder, jnp.asarray(data["tokens"])[None], jnp.asarray(data["y"])))
    agreements = (
        float(np.corrcoef(mine.ravel(), data["y"].ravel())[0, 1]),
        float(np.corrcoef(logits.ravel(), data["logits"].ravel())[0, 1]),
    )
    if min(agreements) < 0.99:
        raise SystemExit(f"this isn't the packaged network: agreement {agreements}")
    return agreements


def main() -> None:
    """Train and write the weights."""
    jax.config.update("jax_default_prng_impl", "rbg")  # type: ignore[no-untyped-call]  # compiles faster
    parser = argparse.ArgumentParser(
        description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter
    )
    add_options(parser, seconds=600, rate=3e-4, pull=0.002)
    parser.add_argument("--write", type=float, default=0.5, help="weight of the transcript loss")
    parser.add_argument("--start", type=Path, help="weights to go on from, instead of the packaged ones")
    parser.add_argument("--bank", type=Path, help="the clips, when not DATA/clips.npz")
    parser.add_argument(
        "--without",
        nargs="*",
        default=[],
        metavar="KIND",
        help="kinds of clips whose transcripts aren't learned",
    )
    asked = parser.parse_args()
    teacher, decoder = load_weights(asked.data / "enc.npz"), load_weights(asked.data / "dec.npz")
    agreement = check_network(teacher, decoder, asked.data / "ref.npz")
    print("agreement with the packaged network", agreement, flush=True)
    bank = Bank(asked.bank or asked.data / "clips.npz", asked.batch, asked.without)
    print("clips a bucket", bank.counts, jax.devices(), flush=True)

    write, pull = jnp.float32(asked.write), jnp.float32(asked.pull)

    def take_step(
        student: Tree, moments: Moments, averaged: Tree, batch: dict[str, Array], *rest: Array
    ) -> Any:  # the tuple of train_step, untyped under jit
        return train_step(student, moments, averaged, teacher, decoder, batch, *rest, write, pull)

    student = load_weights(asked.start) if asked.start else {k: v + 0 for k, v in teacher.items()}
    losses = ("distil", "written", "pulled")
    learned = learn(student, bank, take_step, asked, jax.random.key(asked.seed), losses, warm_steps=300)
    save_learned("encoder.npz", learned, asked)


if __name__ == "__main__":
    main()
