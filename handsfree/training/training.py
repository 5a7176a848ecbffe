"""Shared parts of both trainings: Adam, a rate schedule, a log, and averaged weights."""

from __future__ import annotations

import argparse
import json
import math
import os
import time
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

# Without autotuning it compiles in one minute instead of several. The compiler's own matrix products are
# then five times slower than the library's: 159 ms a step against 29 (batch 128, one H100).
os.environ.setdefault("XLA_FLAGS", "--xla_gpu_autotune_level=0 --xla_gpu_enable_triton_gemm=false")

import jax
import jax.numpy as jnp
import numpy as np
from jax import Array

from handsfree.training.clips import Bank

REPORT_STEPS = 100

Tree = dict[str, Array]
Moments = tuple[Tree, Tree]
Step = Callable[[Tree, Moments, Tree, dict[str, Array], Array, Array, Array], Any]
"""From weights, moments, averaged weights, a batch, a key, the step's number and its rate
to weights, moments, averaged weights and the losses (an array)."""


@dataclass(frozen=True, slots=True)
class Trained:
    """Averaged weights, their number of steps, and a log line for each hundred steps."""

    averaged: Tree
    steps: int
    log: list[dict[str, float]]


def add_options(parser: argparse.ArgumentParser, seconds: float, rate: float, pull: float) -> None:
    """Add the options of every training, with their defaults."""
    parser.add_argument("data", type=Path)
    parser.add_argument("out", type=Path)
    parser.add_argument("--seconds", type=float, default=seconds)
    parser.add_argument("--steps", type=int, default=10**9)
    parser.add_argument("--batch", type=int, default=128)
    parser.add_argument("--rate", type=float, default=rate)
    parser.add_argument("--pull", type=float, default=pull, help="pull towards the packaged weights")
    parser.add_argument("--seed", type=int, default=0)


def learn(
    weights: Tree,
    bank: Bank,
    take_step: Step,
    asked: argparse.Namespace,
    key: Array,
    losses: Sequence[str],
    warm_steps: int,
) -> Trained:
    """Take steps until the requested seconds or steps are used up.

    The rate rises over `warm_steps`, then decays by half a cosine to a fiftieth. losses: their names.
    """
    draw = np.random.default_rng(asked.seed)
    averaged = {k: v + 0 for k, v in weights.items()}
    moments = ({k: v * 0 for k, v in weights.items()}, {k: v * 0 for k, v in weights.items()})
    log: list[dict[str, float]] = []
    began, step, parts = time.time(), 0, []
    while time.time() - began < asked.seconds and step < asked.steps:
        done = max((time.time() - began) / asked.seconds, step / asked.steps)
        rate = asked.rate * min(1, (step + 1) / warm_steps) * (0.5 * (1 + math.cos(math.pi * done)) + 0.02)
        key, used = jax.random.split(key)
        weights, moments, averaged, lost = take_step(
            weights, moments, averaged, bank.batch(draw), used, jnp.float32(step), jnp.float32(rate)
        )
        parts.append(lost)
        step += 1
        if step % REPORT_STEPS == 0:
            mean = np.asarray(jnp.stack(parts)).mean(0).round(4).tolist()
            line = {"step": step, "seconds": round(time.time() - began), "rate": rate}
            line |= dict(zip(losses, mean, strict=True))
            log.append(line)
            print(json.dumps(line), flush=True)
            parts = []
    print("steps", step, "seconds", round(time.time() - began), flush=True)
    return Trained(averaged, step, log)


def save_learned(name: str, learned: Trained, asked: argparse.Namespace) -> None:
    """Write the averaged weights in half precision, and the log with the options."""
    asked.out.mkdir(parents=True, exist_ok=True)
    halves: dict[str, Any] = {k: np.asarray(v).astype(np.float16) for k, v in learned.averaged.items()}
    np.savez(asked.out / name, allow_pickle=False, **halves)
    settings = {k: str(v) for k, v in vars(asked).items()}
    text = json.dumps({"asked": settings, "steps": learned.steps, "log": learned.log}, indent=1)
    (asked.out / "log.json").write_text(text, "utf-8")


def load_weights(path: Path) -> Tree:
    """Return the arrays of a weights file as float32; bytes with a scale (name@) are dequantised."""
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


def adam(
    weights: Tree, moments: Moments, averaged: Tree, gradients: Tree, step: Array, rate: Array
) -> tuple[Tree, Moments, Tree]:
    """Take one step of Adam, gradient norm clipped to 1; return weights, moments, averaged weights."""
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
