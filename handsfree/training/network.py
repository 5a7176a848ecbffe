"""The packaged encoder and decoder as plain functions of their weights, in JAX.

Architecture as found in the packaged files. Encoder: convolution 127/64 without bias, tanh, group
norm of one group, convolutions 7/3 and 3/2 with gelu, six pre-norm layers of 8 heads of 36 (rotary
over the first 32, interleaved, base 10000), MLP 288-1152-288 gelu, norms without bias. Decoder: six
layers of causal self-attention (rotary), cross-attention (none), gated MLP 288-2*1152-288 silu, and
the embedding again as the output.
"""

from __future__ import annotations

from collections.abc import Mapping

import jax
import jax.numpy as jnp
from jax import Array

WIDTH, HEADS, HEAD, ROTARY, LAYERS = 288, 8, 36, 32, 6
Weights = Mapping[str, Array]


def frames_of(samples: Array) -> Array:
    """Return the number of the encoder's frames for a number of samples."""
    return _taken(_taken(_taken(samples, 127, 64), 7, 3), 3, 2)


def encode(
    p: Weights, sound: Array, keep: tuple[int, ...] = (), lengths: Array | None = None
) -> tuple[Array, list[Array]]:
    """Encode sound (batch, samples) at 16 kHz to (batch, frames, 288), and return the layers named by `keep`.

    lengths: (batch,) valid samples of each row, all by default; the frames after `frames_of` them
    are invalid.
    """
    whole = jnp.full(sound.shape[0], sound.shape[1])
    lengths = whole if lengths is None else lengths
    h = jnp.tanh(_convolve(sound[..., None], p["conv1.w"], 64))
    heard = _within(_taken(lengths, 127, 64), h.shape[1])[..., None].astype(h.dtype)
    count = heard.astype(jnp.float32).sum((1, 2), keepdims=True) * h.shape[2]
    centre = ((h * heard).astype(jnp.float32).sum((1, 2), keepdims=True) / count).astype(h.dtype)
    spread = jnp.square((h - centre) * heard).astype(jnp.float32).sum((1, 2), keepdims=True) / count
    h = (h - centre) * jax.lax.rsqrt(spread + 1e-5).astype(h.dtype) * p["gn.w"] + p["gn.b"]
    h = _gelu(_convolve(h, p["conv2.w"], 3) + p["conv2.b"])
    h = _gelu(_convolve(h, p["conv3.w"], 2) + p["conv3.b"])
    turn = _rotation(h.shape[1], h.dtype)
    mask = _masked(frames_of(lengths), h.shape[1])
    kept = []
    for n in range(LAYERS):
        y = _norm(h, p[f"{n}.ln1"])
        q, k = (_rotate(_heads(y @ p[f"{n}.{m}"]), turn) for m in "qk")
        h = h + _attend(q, k, _heads(y @ p[f"{n}.v"]), mask) @ p[f"{n}.o"]
        y = _norm(h, p[f"{n}.ln2"])
        h = h + _gelu(y @ p[f"{n}.fc1"] + p[f"{n}.fc1.b"]) @ p[f"{n}.fc2"] + p[f"{n}.fc2.b"]
        if n in keep:
            kept.append(h)
    return _norm(h, p["lnf"]), kept


def decode(p: Weights, tokens: Array, sound: Array, frames: Array | None = None) -> Array:
    """Map tokens (batch, steps) and encoded sound (batch, frames, 288) to logits (batch, steps, vocabulary).

    frames: (batch,) valid frames of each row, all by default.
    """
    h = p["embed"][tokens]
    turn = _rotation(tokens.shape[1], h.dtype)
    steps = jnp.arange(tokens.shape[1])
    causal = jnp.where(steps[:, None] >= steps[None], 0.0, -1e9).astype(h.dtype)
    mask = 0.0 if frames is None else _masked(frames, sound.shape[1])
    for n in range(LAYERS):
        w = {name: p[f"layers.{n}.{name}"] for name in _DECODER_NAMES}
        y = _norm(h, w["input_layernorm.weight"])
        q, k = (_rotate(_heads(y @ w[f"self_attn.{m}_proj"]), turn) for m in "qk")
        h = h + _attend(q, k, _heads(y @ w["self_attn.v_proj"]), causal) @ w["self_attn.o_proj"]
        y = _norm(h, w["post_attention_layernorm.weight"])
        q = _heads(y @ w["encoder_attn.q_proj"])
        k, v = (_heads(sound @ w[f"encoder_attn.{m}_proj"]) for m in "kv")
        h = h + _attend(q, k, v, mask) @ w["encoder_attn.o_proj"]
        y = _norm(h, w["final_layernorm.weight"])
        value, gate = jnp.split(y @ w["mlp.fc1"] + w["mlp.fc1.bias"], 2, axis=-1)
        h = h + (jax.nn.silu(gate) * value) @ w["mlp.fc2"] + w["mlp.fc2.bias"]
    return _norm(h, p["norm.weight"]) @ p["embed"].T


_DECODER_NAMES = (
    *(f"{kind}_attn.{m}_proj" for kind in ("self", "encoder") for m in "qkvo"),
    *(f"{kind}_layernorm.weight" for kind in ("input", "post_attention", "final")),
    *("mlp.fc1", "mlp.fc1.bias", "mlp.fc2", "mlp.fc2.bias"),
)


def _convolve(x: Array, kernel: Array, stride: int) -> Array:
    """Convolve (batch, steps, in) with (out, in, width) to (batch, steps out, out), without padding.

    As one matrix product over blocks of a stride, which compiles and runs faster than the library's
    convolutions for these shapes.
    """
    batch, steps, channels = x.shape
    out, _, width = kernel.shape
    count = (steps - width) // stride + 1
    blocks = -(-width // stride)
    wanted = (count + blocks - 1) * stride
    x = jnp.pad(x, ((0, 0), (0, max(0, wanted - steps)), (0, 0)))[:, :wanted]
    x = x.reshape(batch, count + blocks - 1, stride * channels)
    patches = jnp.concatenate([x[:, j : j + count] for j in range(blocks)], -1)
    padded = jnp.pad(kernel, ((0, 0), (0, 0), (0, blocks * stride - width)))
    return patches @ padded.transpose(2, 1, 0).reshape(blocks * stride * channels, out)


def _taken(count: Array, width: int, stride: int) -> Array:
    return (count - width) // stride + 1


def _within(count: Array, size: int) -> Array:
    return jnp.arange(size)[None] < count[:, None]


def _masked(count: Array, size: int) -> Array:
    """Return the mask to add to attention scores (batch, heads, queries, keys)."""
    return jnp.where(_within(count, size), 0.0, -1e9)[:, None, None]


def _gelu(x: Array) -> Array:
    return jax.nn.gelu(x, approximate=False)


def _norm(x: Array, weight: Array) -> Array:
    wide = x.astype(jnp.float32)
    centred = wide - wide.mean(-1, keepdims=True)
    scale = jax.lax.rsqrt(jnp.square(centred).mean(-1, keepdims=True) + 1e-5)
    return (centred * scale).astype(x.dtype) * weight


def _rotation(length: int, dtype: jnp.dtype) -> tuple[Array, Array]:
    inverse = 1 / 10000 ** (jnp.arange(0, ROTARY, 2) / ROTARY)
    angle = jnp.arange(length)[:, None] * inverse
    return jnp.cos(angle).astype(dtype), jnp.sin(angle).astype(dtype)


def _rotate(x: Array, turn: tuple[Array, Array]) -> Array:
    cos, sin = turn
    turned, rest = x[..., :ROTARY], x[..., ROTARY:]
    even, odd = turned[..., 0::2], turned[..., 1::2]
    both = jnp.stack([even * cos - odd * sin, odd * cos + even * sin], -1)
    return jnp.concatenate([both.reshape(turned.shape), rest], -1)


def _heads(x: Array) -> Array:
    return x.reshape(x.shape[0], x.shape[1], HEADS, HEAD).transpose(0, 2, 1, 3)


def _attend(q: Array, k: Array, v: Array, mask: Array | float = 0.0) -> Array:
    scores = (q @ k.transpose(0, 1, 3, 2)).astype(jnp.float32) / HEAD**0.5 + mask
    out = jax.nn.softmax(scores, axis=-1).astype(v.dtype) @ v
    return out.transpose(0, 2, 1, 3).reshape(q.shape[0], q.shape[2], WIDTH)
