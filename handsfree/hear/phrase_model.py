"""The packaged English encoder-decoder model, run directly with onnxruntime.

Model: the small English model inside the wheel moonshine-voice 0.0.49 (MIT licence). The package
is never imported, since that would load its downloaders: its files are located and read.
"""

from __future__ import annotations

import os
from dataclasses import dataclass
from functools import cached_property
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from handsfree.errors import ModelError
from handsfree.hear.heard import Samples
from handsfree.hear.models import PackagedModel, known_models
from handsfree.hear.tokens import START, Vocabulary, read_pieces

Floats = NDArray[np.float32]

PACKAGED_ENCODER = Path("packaged")
"""Stands for the model's own encoder, for comparison, in place of an encoder's file."""

PACKAGE = "moonshine_voice"
ADAPTED = Path(__file__).with_name("encoder_adapted.onnx")  # see encoder_adapted.md beside it
_FILES = ("encoder_model.ort", "decoder_model_merged.ort", "tokenizer.bin")
_LAYERS, _HEADS, _HEAD_SIZE = 6, 8, 36
_PEAK = 0.5  # -6 dBFS, the level at which the model hears best


def model_folder() -> Path:
    """Return the folder of the packaged model's files.

    Raises:
        ModelError: the package isn't installed, or its version no longer contains the files.
    """
    model = next(model for model in known_models() if isinstance(model, PackagedModel) and model.taken)
    package = model.folder()
    remedy = f"run handsfree's installer again, or install {model.requirement}, which carries it"
    if package is None:
        raise ModelError(f"the embedded recogniser's model is missing: no package {PACKAGE}; {remedy}")
    folder = package / "assets" / "tiny-en"
    for name in _FILES:
        if not (folder / name).is_file():
            raise ModelError(f"the embedded recogniser's model is missing: no {name} in {folder}; {remedy}")
    return folder


@dataclass(slots=True)
class DecoderState:
    """The decoder's cache: self-attention of `rows` hypotheses, cross-attention of the sound.

    own: twelve arrays (rows, 8, steps, 36), key and value of each layer.
    sound: twelve arrays (1, 8, frames, 36). The graph broadcasts them over all rows; copies for each row
        give the same numbers in twice the time.
    """

    own: list[Floats]
    sound: list[Floats]


class PhraseModel:
    """Encoder and decoder sessions. Loading takes about 0.2 s; decoding reads no files.

    Args:
        folder: the packaged model's files, located automatically when not given.
        encoder: an encoder's file; the one adapted to workshops when not given. PACKAGED_ENCODER
            selects the model's own.
        decoder: matrices that replace the model's own (see `adapt.weights`).
        threads: for each of the two networks; by default half of the machine's processors, two at most.
            The other processors are for sound input and the display; with only two processors a second
            thread gains nothing.
    """

    def __init__(
        self,
        folder: Path | None = None,
        encoder: Path | None = None,
        threads: int | None = None,
        decoder: Path | None = None,
    ) -> None:
        import onnxruntime

        folder = folder or model_folder()
        options = onnxruntime.SessionOptions()
        options.intra_op_num_threads = threads or max(1, min(2, (os.cpu_count() or 2) // 2))
        options.log_severity_level = 3
        if encoder is None:
            encoder = ADAPTED
        elif encoder == PACKAGED_ENCODER:
            encoder = folder / _FILES[0]
        if not encoder.is_file():
            raise ModelError(
                f"the recogniser's encoder isn't at {encoder}; name another, or run ./demo/run again"
            )
        self.encoder_name = encoder.stem.removeprefix("encoder_")
        self._tokenizer = folder / "tokenizer.bin"
        try:
            self._encoder = onnxruntime.InferenceSession(str(encoder), options)
            if decoder:
                self._replaced = _replacements(decoder)  # the session doesn't copy them
                for name, value in self._replaced.items():
                    options.add_initializer(name, value)
            self._decoder = onnxruntime.InferenceSession(str(folder / "decoder_model_merged.ort"), options)
        except Exception as error:  # onnxruntime raises its own unrelated classes
            raise ModelError(
                f"the embedded recogniser's model in {folder} can't be loaded: {error}"
            ) from error
        kinds = [
            (layer, side, part)
            for layer in range(_LAYERS)
            for side in ("decoder", "encoder")
            for part in ("key", "value")
        ]
        self._own_in = [f"past_key_values.{i}.{side}.{part}" for i, side, part in kinds if side == "decoder"]
        self._sound_in = [
            f"past_key_values.{i}.{side}.{part}" for i, side, part in kinds if side == "encoder"
        ]
        self._own_out = [f"present.{i}.{side}.{part}" for i, side, part in kinds if side == "decoder"]
        self._sound_out = [f"present.{i}.{side}.{part}" for i, side, part in kinds if side == "encoder"]

    @cached_property
    def vocabulary(self) -> Vocabulary:
        """The model's tokens."""
        return Vocabulary(read_pieces(self._tokenizer))

    def encode(self, samples: Samples) -> Floats:
        """Encode speech: (n,) int16 at 16 kHz to (1, frames, 288), about 41 frames a second."""
        sound = scaled(samples)[None]
        (hidden,) = self._encoder.run(
            None, {"input_values": sound, "attention_mask": np.ones(sound.shape, np.int64)}
        )
        return np.asarray(hidden, np.float32)

    def begin(self, hidden: Floats) -> tuple[Floats, DecoderState]:
        """Return log-probabilities (vocabulary,) of the first token, and the cache."""
        feed: dict[str, Any] = {
            "encoder_attention_mask": np.ones((1, 1), np.int64),
            "input_ids": np.array([[START]], np.int64),
            "encoder_hidden_states": hidden,
            "use_cache_branch": np.array([False]),
        }
        nothing = np.zeros((1, _HEADS, 1, _HEAD_SIZE), np.float32)
        feed.update(dict.fromkeys(self._own_in + self._sound_in, nothing))
        logits, *memory = self._decoder.run(["logits", *self._own_out, *self._sound_out], feed)
        state = DecoderState(memory[: 2 * _LAYERS], memory[2 * _LAYERS :])
        return log_softmax(logits[0, -1]), state

    def step(
        self, hidden: Floats, state: DecoderState, parents: list[int], tokens: list[int]
    ) -> tuple[Floats, DecoderState]:
        """Advance hypotheses by one token each.

        parents: for each new row the row of `state` that it continues. Returns log-probabilities
        (rows, vocabulary) of the next token, and the new cache.
        """
        rows = len(tokens)
        feed: dict[str, Any] = {
            # the graph takes every 384th column of this mask: one column stands for sound of any length
            "encoder_attention_mask": np.ones((rows, 1), np.int64),
            "input_ids": np.array(tokens, np.int64)[:, None],
            # unused with the cache, but its first axis must match
            "encoder_hidden_states": np.broadcast_to(hidden[:, :1], (rows, 1, hidden.shape[2])),
            "use_cache_branch": np.array([True]),
        }
        index = np.array(parents)
        feed.update(zip(self._own_in, (a[index] for a in state.own), strict=True))
        feed.update(zip(self._sound_in, state.sound, strict=True))
        logits, *own = self._decoder.run(["logits", *self._own_out], feed)
        return log_softmax(logits[:, -1]), DecoderState(own, state.sound)


def _replacements(path: Path) -> dict[str, Any]:
    import onnxruntime

    with np.load(path) as data:
        return {name: onnxruntime.OrtValue.ortvalue_from_numpy(data[name]) for name in data.files}


def scaled(samples: Samples) -> Floats:
    """Return samples scaled to the model's level: float32 with a peak of one half."""
    sound = samples.astype(np.float32)
    peak = float(np.abs(sound).max(initial=0.0))
    return sound * np.float32(_PEAK / peak) if peak > 0 else sound


def log_softmax(logits: Floats) -> Floats:
    """Return log-probabilities along the last axis."""
    shifted = logits - logits.max(axis=-1, keepdims=True)
    shifted -= np.log(np.exp(shifted).sum(axis=-1, keepdims=True))
    return np.asarray(shifted, np.float32)
