"""Convert the packaged networks' weights to arrays, and a trained encoder's back to the same graph.

    python -m handsfree.training.weights out DATA            packaged files to arrays in DATA
    python -m handsfree.training.weights from FILE ENC.npz   an adapted encoder's file to arrays
    python -m handsfree.training.weights back ENC.npz FILE   arrays to an encoder file for the recogniser
    python -m handsfree.training.weights blend FILE ENC.npz SHARE ...
                                                               the same, of the packaged weights moved by
                                                               each SHARE of the way to its ENC.npz
    python -m handsfree.training.weights decoder FILE DEC.npz SHARE ...
                                                               matrices for the recogniser's decoder: packaged
                                                               ones with a SHARE of each DEC.npz's additions

The matrices stay quantised to eight bits as in the packaged file; the convolutions are stored in half
precision, which reduces the file from 13 MB to under 10 without a measurable change (eight bits for each
output channel, as before, lost some words of clean sentences).
"""

from __future__ import annotations

import re
import sys
import tempfile
from collections.abc import Mapping
from pathlib import Path
from typing import Any

import numpy as np
import onnx
import onnxruntime
from numpy.typing import NDArray
from onnx import TensorProto, helper, numpy_helper

from handsfree.hear import model_folder
from handsfree.sound_format import SAMPLERATE_HZ

Arrays = dict[str, NDArray[np.float32]]

_LAYERS = 6
_PLAIN = {
    "conv1.w": "conv1.weight_add_tensor",
    "conv2.w": "conv2.weight_add_tensor",
    "conv2.b": "conv2.bias",
    "conv3.w": "conv3.weight_add_tensor",
    "conv3.b": "conv3.bias",
    "gn.w": "onnx::Mul_2080",
    "gn.b": "onnx::Add_2081",
    "lnf": "layer_norm.weight",
    **{f"{n}.fc1.b": f"layers.{n}.mlp.fc1.bias" for n in range(_LAYERS)},
    **{f"{n}.fc2.b": f"layers.{n}.mlp.fc2.bias" for n in range(_LAYERS)},
    **{f"{n}.ln1": f"layers.{n}.input_layernorm.weight" for n in range(_LAYERS)},
    **{f"{n}.ln2": f"layers.{n}.post_attention_layernorm.weight" for n in range(_LAYERS)},
}
_MATRICES = ("q", "k", "v", "o", "fc1", "fc2")


def plain_graph(name: str) -> Any:
    """Return the packaged network `name` as an unoptimised ONNX model."""
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "plain.onnx"
        options = onnxruntime.SessionOptions()
        options.graph_optimization_level = onnxruntime.GraphOptimizationLevel.ORT_DISABLE_ALL
        options.optimized_model_filepath = str(path)
        options.log_severity_level = 3
        onnxruntime.InferenceSession(str(model_folder() / name), options)
        return onnx.load(path)


def _quantised_names(model: Any) -> dict[str, str]:
    numbers = sorted(
        int(found[1])
        for tensor in model.graph.initializer
        if (found := re.fullmatch(r"onnx::MatMul_(\d+)_quantized", tensor.name))
    )
    groups = [numbers[6 * n : 6 * n + 6] for n in range(_LAYERS)]
    return {
        f"{n}.{part}": f"onnx::MatMul_{number}"
        for n, group in enumerate(groups)
        for part, number in zip(_MATRICES, group, strict=True)
    }


def encoder_weights(adapted: Path | None = None) -> Arrays:
    """Return the weights of an encoder's file, or of the packaged one, as float32 arrays by short names."""
    model = onnx.load(adapted) if adapted else plain_graph("encoder_model.ort")
    held = {tensor.name: numpy_helper.to_array(tensor) for tensor in model.graph.initializer}
    for name in [name for name in held if name.endswith("_half")]:  # see _store_in_halves
        held[name.removesuffix("_half")] = held[name].astype(np.float32)
    found = {
        short: np.asarray(held[name], np.float32).ravel() if short.startswith("gn") else held[name]
        for short, name in _PLAIN.items()
    }
    for short, name in _quantised_names(model).items():
        levels = held[f"{name}_quantized"].astype(np.float32) - held[f"{name}_zero_point"].astype(np.float32)
        found[short] = levels * held[f"{name}_scale"]
    return found


def decoder_weights() -> Arrays:
    """Return the packaged decoder's weights: bytes as stored, with (lowest, scale) under name@."""
    model = plain_graph("decoder_model_merged.ort")
    outer = {tensor.name: tensor for tensor in model.graph.initializer}
    choice = next(node for node in model.graph.node if node.op_type == "If")
    found: Arrays = {}
    for branch in choice.attribute:
        held = {**outer, **{tensor.name: tensor for tensor in branch.g.initializer}}
        for node in branch.g.node:
            for name in node.input:
                if name not in held:
                    continue
                if name.endswith("_quantized"):
                    short = _decoder_name(node)
                    if short == "proj_out":
                        continue  # the embedding again
                    base = name.removesuffix("_quantized")
                    zero, scale = (
                        numpy_helper.to_array(held[f"{base}_{part}"]).astype(np.float64)
                        for part in ("zero_point", "scale")
                    )
                    levels = numpy_helper.to_array(held[name]).astype(np.int16) - zero.astype(np.int16)
                    lowest = int(levels.min())
                    found[short] = (levels - lowest).astype(np.uint8)
                    found[f"{short}@"] = np.array([lowest, float(scale)])
                elif re.search(r"norm\.weight|bias", name):
                    short = re.sub(r"_merged_\d", "", name.removeprefix("model.decoder."))
                    found[short] = numpy_helper.to_array(held[name])
    return found


def _decoder_name(node: Any) -> str:
    if node.op_type == "Gather":
        return "embed"
    return re.sub(r"/", ".", re.sub(r"^/model/decoder/|^/|/MatMul_quant$", "", node.name))


def decoder_additions(shares: Mapping[Path, float]) -> dict[str, NDArray[Any]]:
    """Return the packaged decoder's matrices with a share of each file's additions, as the graph names them.

    For each changed matrix: NAME_quantized (in, out) uint8, NAME_scale () float32 and NAME_zero_point ()
    uint8, which replace the packaged file's initializers.
    """
    model = plain_graph("decoder_model_merged.ort")
    held = {tensor.name: tensor for tensor in model.graph.initializer}
    choice = next(node for node in model.graph.node if node.op_type == "If")
    bases = {
        _decoder_name(node): name.removesuffix("_quantized")
        for branch in choice.attribute
        for node in branch.g.node
        for name in node.input
        if name in held and name.endswith("_quantized")
    }
    moved: Arrays = {}
    for path, share in shares.items():
        learned = load(path)
        for short in (name.removesuffix(".a") for name in learned if name.endswith(".a")):
            added = np.float32(share) * (learned[f"{short}.a"] @ learned[f"{short}.b"])
            moved[short] = moved[short] + added if short in moved else added
    found: dict[str, NDArray[Any]] = {}
    for short, added in moved.items():
        base = bases[short]
        packed, scale, zero = (
            numpy_helper.to_array(held[f"{base}_{part}"]) for part in ("quantized", "scale", "zero_point")
        )
        value = (packed.astype(np.float32) - zero.astype(np.float32)) * scale + added
        found[f"{base}_quantized"], found[f"{base}_scale"], found[f"{base}_zero_point"] = _in_bytes(value)
    return found


def _in_bytes(value: NDArray[np.float32]) -> tuple[NDArray[np.uint8], NDArray[np.float32], NDArray[np.uint8]]:
    low, high = min(float(value.min()), 0.0), max(float(value.max()), 0.0)
    scale = (high - low) / 255
    zero = round(-low / scale)
    levels = np.clip(np.round(value / scale) + zero, 0, 255).astype(np.uint8)
    return levels, np.array(scale, np.float32), np.array(zero, np.uint8)


def write_encoder(weights: Arrays, path: Path) -> None:
    """Write the packaged encoder's graph with these weights as ONNX."""
    model = plain_graph("encoder_model.ort")
    held = {tensor.name: tensor for tensor in model.graph.initializer}

    def put(name: str, value: Any) -> None:
        old = numpy_helper.to_array(held[name])
        held[name].CopyFrom(
            numpy_helper.from_array(np.asarray(value).astype(old.dtype).reshape(old.shape), name)
        )

    for short, name in _PLAIN.items():
        if not short.endswith(".w") or short == "gn.w":
            put(name, weights[short])
    for short, name in _quantised_names(model).items():
        for part, value in zip(("quantized", "scale", "zero_point"), _in_bytes(weights[short]), strict=True):
            put(f"{name}_{part}", value)
    for short in ("conv1.w", "conv2.w", "conv3.w"):
        _store_in_halves(model, _PLAIN[short], weights[short])
    onnx.save(model, str(path))


def _store_in_halves(model: Any, name: str, value: NDArray[np.float32]) -> None:
    """Replace a float kernel by a 16-bit one, which is converted to float when the file is loaded."""
    tensors = model.graph.initializer
    tensors.remove(next(tensor for tensor in tensors if tensor.name == name))
    tensors.append(numpy_helper.from_array(value.astype(np.float16), f"{name}_half"))
    node = helper.make_node("Cast", [f"{name}_half"], [name], name=f"{name}_whole", to=int(TensorProto.FLOAT))
    model.graph.node.insert(0, node)


def blended(shares: Mapping[Path, float]) -> Arrays:
    """Return the packaged weights, blended with a share of each of some others."""
    packaged = encoder_weights()
    moved = {name: value.copy() for name, value in packaged.items()}
    for path, share in shares.items():
        other = load(path)
        for name, value in packaged.items():
            moved[name] += np.float32(share) * (other[name].reshape(value.shape) - value)
    return moved


def reference(seed: int = 0) -> Arrays:
    """Return sound and tokens with the packaged networks' outputs, for checking other code.

    The arrays are x (samples,), y (1, frames, 288), tokens (steps,) and logits (steps, vocabulary).
    """
    draw = np.random.default_rng(seed)
    time = np.arange(2 * SAMPLERATE_HZ) / SAMPLERATE_HZ
    tones = sum(np.sin(2 * np.pi * f * time + f) / f for f in draw.uniform(90, 3000, 24))
    sound = (tones * np.sin(np.pi * time * 4) ** 2 + 1e-4 * draw.standard_normal(len(time))).astype(
        np.float32
    )
    sound *= 0.5 / np.abs(sound).max()
    folder = model_folder()
    encoder = onnxruntime.InferenceSession(str(folder / "encoder_model.ort"))
    decoder = onnxruntime.InferenceSession(str(folder / "decoder_model_merged.ort"))
    feed = {"input_values": sound[None], "attention_mask": np.ones((1, len(sound)), np.int64)}
    (hidden,) = encoder.run(None, feed)
    tokens = np.concatenate([[1], draw.integers(300, 32_000, 6)])
    past = [i.name for i in decoder.get_inputs() if i.name.startswith("past")]
    given = {
        "encoder_attention_mask": np.ones((1, hidden.shape[1]), np.int64),
        "input_ids": tokens[None],
        "encoder_hidden_states": hidden,
        "use_cache_branch": np.array([False]),
        **{name: np.zeros((1, 8, 1, 36), np.float32) for name in past},
    }
    (logits,) = decoder.run(["logits"], given)
    return {"x": sound, "y": hidden, "tokens": tokens, "logits": logits[0]}


def load(path: Path) -> Arrays:
    """Return the arrays of a weights file as float32."""
    data = np.load(path)
    return {name: data[name].astype(np.float32) for name in data.files}


def save(path: Path, arrays: Mapping[str, Any]) -> None:
    """Write arrays under their names."""
    np.savez(path, allow_pickle=False, **arrays)


def main() -> None:
    """Run the chosen conversion."""
    match sys.argv[1:]:
        case ["out", folder]:
            target = Path(folder)
            target.mkdir(parents=True, exist_ok=True)
            save(target / "enc.npz", {k: v.astype(np.float16) for k, v in encoder_weights().items()})
            save(target / "dec.npz", decoder_weights())
            save(target / "ref.npz", reference())
        case ["from", source, path]:
            save(Path(path), {k: v.astype(np.float16) for k, v in encoder_weights(Path(source)).items()})
        case ["back", source, path]:
            write_encoder(load(Path(source)), Path(path))
        case ["blend" | "decoder" as which, path, *pairs] if pairs and len(pairs) % 2 == 0:
            shares = {Path(pairs[i]): float(pairs[i + 1]) for i in range(0, len(pairs), 2)}
            if which == "blend":
                write_encoder(blended(shares), Path(path))
            else:
                np.savez_compressed(path, allow_pickle=False, **decoder_additions(shares))
        case _:
            raise SystemExit(__doc__)


if __name__ == "__main__":
    main()
