"""Teach the encoder to hear through noise, so that the frozen decoder still writes what was said.

    python -m handsfree.hear.adapt.train DATA OUT --seconds 600

DATA holds enc.npz and dec.npz (weights as arrays), clips.npz (see `bank`), ref.npz (a check that
these functions are the packaged network). OUT gets the weights as half-precision arrays, and a log.

Two losses: the student hears the noisy copy and must answer as the teacher does for the clean sound
(no transcript needed; it keeps what the model knows of people), and for clips with a transcript the
frozen decoder must find it likely, in words or in numerals, whichever it prefers.
"""

from __future__ import annotations

import argparse
import json
import math
import os
import time
from functools import partial
from pathlib import Path
from typing import Any

# Without autotuning it compiles in one minute instead of several. The compiler's own matrix products are
# then five times slower than the library's: 159 ms a step against 29 (batch 128, one H100).
os.environ.setdefault("XLA_FLAGS", "--xla_gpu_autotune_level=0 --xla_gpu_enable_triton_gemm=false")

import jax
import jax.numpy as jnp
import numpy as np
from jax import Array

from handsfree.hear.adapt.clips import END, Bank, clean_and_noisy
from handsfree.hear.adapt.network import decode, encode, frames_of

INNER = (2, 4)
START = 1
REPORT_STEPS = 100

Tree = dict[str, Array]


def transcript_loss(decoder: Tree, encoded: Array, frames: Array, tokens: Array, weight: Array) -> Array:
    """Mean over clips of the negative log-probability a token, of the two ways to write it together.

    frames: (clips,) how many of `encoded` count. tokens: (clips, 2, steps). weight: (clips,), 0 where
    there is no transcript.
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


@partial(jax.jit, static_argnames=("write", "pull"), donate_argnums=(0, 1))
def train_step(
    student: Tree,
    moments: tuple[Tree, Tree],
    averaged: Tree,
    teacher: Tree,
    decoder: Tree,
    bank_rows: Array,
    batch: dict[str, Array],
    key: Array,
    step: Array,
    rate: Array,
    write: float,
    pull: float,
) -> tuple[Tree, tuple[Tree, Tree], Tree, Array]:
    """One step of Adam; gives weights, moments, averaged weights and the three losses."""
    clean, noisy = clean_and_noisy(bank_rows, batch, key)
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


def adam(
    weights: Tree, moments: tuple[Tree, Tree], averaged: Tree, gradients: Tree, step: Array, rate: Array
) -> tuple[Tree, tuple[Tree, Tree], Tree]:
    """One step of Adam, the gradients no longer than 1 together; weights, moments, averaged weights."""
    norm = jnp.sqrt(sum(jnp.square(g).sum() for g in gradients.values()))
    shrink = jnp.minimum(1.0, 1.0 / (norm + 1e-9))
    first, second = moments
    first = {k: 0.9 * first[k] + 0.1 * g * shrink for k, g in gradients.items()}
    second = {k: 0.98 * second[k] + 0.02 * jnp.square(g * shrink) for k, g in gradients.items()}
    one, two = 1 - 0.9 ** (step + 1), 1 - 0.98 ** (step + 1)
    weights = {
        k: v - rate * (first[k] / one) / (jnp.sqrt(second[k] / two) + 1e-8) for k, v in weights.items()
    }
    keep = jnp.minimum(0.999, step / (step + 100))
    averaged = {k: keep * averaged[k] + (1 - keep) * v for k, v in weights.items()}
    return weights, (first, second), averaged


def _apart(mine: Array, theirs: Array, frames: Array, weight: Array) -> Array:
    """Weighted squared distance in units of the teacher's variance, over the frames that count."""
    mine, theirs = mine.astype(jnp.float32), theirs.astype(jnp.float32)
    counted = (jnp.arange(mine.shape[1])[None] < frames[:, None])[..., None]
    each = (jnp.square(mine - theirs) * counted).sum((1, 2)) / (frames * mine.shape[2])
    return (each * weight).sum() / jnp.maximum(weight.sum(), 1e-3) / theirs.var(where=counted)


def check_network(encoder: Tree, decoder: Tree, reference: Path) -> tuple[float, float]:
    """How well these functions agree with the packaged files: two correlations.

    Raises:
        SystemExit: when they don't.
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


def load_weights(path: Path) -> Tree:
    """Arrays of a weights file as float32; bytes with a scale beside them (name@) are unpacked."""
    data = np.load(path)
    found = {}
    for name in data.files:
        if name.endswith("@"):
            continue
        value = data[name]
        if f"{name}@" in data.files:
            low, scale = data[f"{name}@"]
            value = (value.astype(np.float32) + np.float32(low)) * np.float32(scale)
        found[name] = jnp.asarray(value.astype(np.float32))
    return found


def main() -> None:
    """Train and write the weights."""
    jax.config.update("jax_default_prng_impl", "rbg")  # type: ignore[no-untyped-call]  # compiles faster
    parser = argparse.ArgumentParser(
        description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter
    )
    parser.add_argument("data", type=Path)
    parser.add_argument("out", type=Path)
    parser.add_argument("--seconds", type=float, default=600)
    parser.add_argument("--steps", type=int, default=10**9)
    parser.add_argument("--batch", type=int, default=128)
    parser.add_argument("--rate", type=float, default=3e-4)
    parser.add_argument("--write", type=float, default=0.5, help="weight of the transcript loss")
    parser.add_argument("--pull", type=float, default=0.002, help="pull towards the packaged weights")
    parser.add_argument("--start", type=Path, help="weights to go on from, instead of the packaged ones")
    parser.add_argument("--seed", type=int, default=0)
    asked = parser.parse_args()
    teacher, decoder = load_weights(asked.data / "enc.npz"), load_weights(asked.data / "dec.npz")
    print(
        "agreement with the packaged network",
        check_network(teacher, decoder, asked.data / "ref.npz"),
        flush=True,
    )
    bank = Bank(asked.data / "clips.npz", asked.batch)
    print("clips a bucket", bank.counts, jax.devices(), flush=True)
    draw = np.random.default_rng(asked.seed)
    key = jax.random.key(asked.seed)
    student = load_weights(asked.start) if asked.start else {k: v + 0 for k, v in teacher.items()}
    averaged = {k: v + 0 for k, v in student.items()}
    moments = ({k: v * 0 for k, v in teacher.items()}, {k: v * 0 for k, v in teacher.items()})
    log: list[dict[str, float]] = []
    began, step, parts = time.time(), 0, []
    while time.time() - began < asked.seconds and step < asked.steps:
        done = max((time.time() - began) / asked.seconds, step / asked.steps)
        rate = asked.rate * min(1, (step + 1) / 300) * (0.5 * (1 + math.cos(math.pi * done)) + 0.02)
        bucket, picked = bank.pick(draw)
        batch = {k: jnp.asarray(v) for k, v in picked.items()}
        key, used = jax.random.split(key)
        student, moments, averaged, losses = train_step(
            student, moments, averaged, teacher, decoder, bank.rows[bucket], batch, used,
            jnp.float32(step), jnp.float32(rate), asked.write, asked.pull,
        )  # fmt: skip
        parts.append(losses)
        step += 1
        if step % REPORT_STEPS == 0:
            mean = np.asarray(jnp.stack(parts)).mean(0).round(4).tolist()
            line = {"step": step, "seconds": round(time.time() - began), "rate": rate}
            line |= dict(zip(("distil", "written", "pulled"), mean, strict=True))
            log.append(line)
            print(json.dumps(line), flush=True)
            parts = []
    asked.out.mkdir(parents=True, exist_ok=True)
    halves: dict[str, Any] = {k: np.asarray(v).astype(np.float16) for k, v in averaged.items()}
    np.savez(asked.out / "encoder.npz", allow_pickle=False, **halves)
    settings = {k: str(v) for k, v in vars(asked).items()}
    (asked.out / "log.json").write_text(json.dumps({"asked": settings, "steps": step, "log": log}, indent=1))
    print("steps", step, "seconds", round(time.time() - began), flush=True)


if __name__ == "__main__":
    main()
