"""Train the decoder on the bench's phrases, and keep its output for other speech.

    python -m handsfree.training.train_decoder DATA OUT --seconds 300 --parts cross --rank 8

DATA holds enc.npz (the encoder in front of it), dec.npz (the packaged decoder) and
clips.npz (see `bank`). OUT gets decoder.npz, and a log.

It learns low-rank additions to some of the decoder's matrices: for a matrix NAME of (in, out),
NAME.a (in, rank) and NAME.b (rank, out). Two losses, both on noisy sound: a command's transcript must
be likely, in words or in numerals, whichever it prefers; and for talk its token probabilities must
match those of the packaged decoder for the clean sound.
"""

from __future__ import annotations

import argparse
import math
from functools import partial
from typing import Any

import jax
import jax.numpy as jnp
from jax import Array

from handsfree.training.clips import END, Bank, clean_and_noisy
from handsfree.training.network import LAYERS, decode, encode, frames_of
from handsfree.training.train import START
from handsfree.training.training import Moments, Tree, adam, add_options, learn, load_weights, save_learned

PARTS = {
    "kv": ("encoder_attn.k_proj", "encoder_attn.v_proj"),
    "cross": ("encoder_attn.q_proj", "encoder_attn.k_proj", "encoder_attn.v_proj", "encoder_attn.o_proj"),
    "all": (
        *(f"{kind}_attn.{m}_proj" for kind in ("self", "encoder") for m in "qkvo"),
        "mlp.fc1",
        "mlp.fc2",
    ),
}


def beginning(decoder: Tree, parts: str, rank: int, key: Array) -> Tree:
    """Return initial additions, which are zero in effect."""
    factors = {}
    for n in range(LAYERS):
        for part in PARTS[parts]:
            name = f"layers.{n}.{part}"
            into, out = decoder[name].shape
            key, used = jax.random.split(key)
            factors[f"{name}.a"] = jax.random.normal(used, (into, rank)) / math.sqrt(into)
            factors[f"{name}.b"] = jnp.zeros((rank, out))
    return factors


def with_additions(decoder: Tree, factors: Tree) -> Tree:
    """Return the decoder with its additions."""
    names = {name.removesuffix(".a") for name in factors if name.endswith(".a")}
    return decoder | {n: decoder[n] + factors[f"{n}.a"] @ factors[f"{n}.b"] for n in names}


def losses_of(
    student: Tree, teacher: Tree, noisy: Array, clean: Array, frames: Array, batch: dict[str, Array]
) -> tuple[Array, Array]:
    """Return two means per token over clips: transcript surprisal, and distance from the packaged decoder.

    The first combines a clip's two transcripts; the second is the relative entropy along the first one.
    noisy, clean: (clips, frames, 288), of which `frames` (clips,) are valid. tokens: (clips, 2, steps).
    """
    count, ways, steps = batch["tokens"].shape
    flat = batch["tokens"].reshape(count * ways, steps)
    fed = jnp.concatenate([jnp.full_like(flat[:, :1], START), flat[:, :-1]], 1)
    counted = jnp.concatenate([jnp.ones_like(flat[:, :1]), (flat[:, :-1] != END).astype(flat.dtype)], 1)
    logits = decode(student, fed, jnp.repeat(noisy, ways, 0), jnp.repeat(frames, ways, 0)).astype(jnp.float32)
    logp = jax.nn.log_softmax(logits)
    chosen = jnp.take_along_axis(logp, flat[..., None], 2)[..., 0]
    total = (chosen * counted).sum(1).reshape(count, ways)
    size = counted.sum(1).reshape(count, ways).mean(1)
    surprise = -jax.nn.logsumexp(total, 1) / size
    written = (surprise * batch["write"]).sum() / jnp.maximum(batch["write"].sum(), 1e-3)
    first = counted.reshape(count, ways, steps)[:, 0]
    before = jax.nn.log_softmax(
        decode(teacher, fed.reshape(count, ways, steps)[:, 0], clean, frames).astype(jnp.float32)
    )
    after = logp.reshape(count, ways, steps, -1)[:, 0]
    apart = ((jnp.exp(before) * (before - after)).sum(-1) * first).sum(1) / first.sum(1)
    kept = (apart * batch["distil"]).sum() / jnp.maximum(batch["distil"].sum(), 1e-3)
    return written, kept


@partial(jax.jit, static_argnames=("keep", "pull"), donate_argnums=(0, 1, 2))
def train_step(
    factors: Tree,
    moments: tuple[Tree, Tree],
    averaged: Tree,
    encoder: Tree,
    decoder: Tree,
    batch: dict[str, Array],
    key: Array,
    step: Array,
    rate: Array,
    keep: float,
    pull: float,
) -> tuple[Tree, tuple[Tree, Tree], Tree, Array]:
    """Take one step of Adam; return factors, moments, averaged factors and the three losses."""
    clean, noisy = clean_and_noisy(batch, key)
    lengths = batch["lengths"]
    half = partial(jax.tree.map, lambda x: x.astype(jnp.bfloat16))
    ears = half(encoder)
    heard_clean = encode(ears, clean.astype(jnp.bfloat16), (), lengths)[0]
    heard_noisy = encode(ears, noisy.astype(jnp.bfloat16), (), lengths)[0]

    def losses(learned: Tree) -> tuple[Array, Array]:
        student = half(with_additions(decoder, learned))
        written, kept = losses_of(student, half(decoder), heard_noisy, heard_clean, frames_of(lengths), batch)
        names = {name.removesuffix(".a") for name in learned if name.endswith(".a")}
        pulled = sum(jnp.square(learned[f"{n}.a"] @ learned[f"{n}.b"]).sum() for n in names)
        return written + keep * kept + pull * pulled, jnp.stack([written, kept, jnp.asarray(pulled)])

    gradients, parts = jax.grad(losses, has_aux=True)(factors)
    return (*adam(factors, moments, averaged, gradients, step, rate), parts)


def main() -> None:
    """Train and write the additions."""
    jax.config.update("jax_default_prng_impl", "rbg")  # type: ignore[no-untyped-call]  # compiles faster
    parser = argparse.ArgumentParser(
        description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter
    )
    add_options(parser, seconds=300, rate=5e-4, pull=1e-4)
    parser.add_argument("--parts", choices=sorted(PARTS), default="cross")
    parser.add_argument("--rank", type=int, default=8)
    parser.add_argument("--keep", type=float, default=1.0, help="weight of thinking of talk as before")
    asked = parser.parse_args()
    encoder, decoder = load_weights(asked.data / "enc.npz"), load_weights(asked.data / "dec.npz")
    bank = Bank(asked.data / "clips.npz", asked.batch)
    print("clips a bucket", bank.counts, jax.devices(), flush=True)

    def take_step(
        factors: Tree, moments: Moments, averaged: Tree, batch: dict[str, Array], *rest: Array
    ) -> Any:  # the tuple of train_step, untyped under jit
        return train_step(factors, moments, averaged, encoder, decoder, batch, *rest, asked.keep, asked.pull)

    key, used = jax.random.split(jax.random.key(asked.seed))
    factors = beginning(decoder, asked.parts, asked.rank, used)
    learned = learn(factors, bank, take_step, asked, key, ("written", "kept", "pulled"), warm_steps=200)
    save_learned("decoder.npz", learned, asked)


if __name__ == "__main__":
    main()
