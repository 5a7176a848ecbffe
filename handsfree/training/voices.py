"""Convert the weights of a network that tells voices apart to the file that the program carries.

    python -m handsfree.training.voices Resemblyzer-0.1.4-py3-none-any.whl handsfree/hear/voices.onnx

The wheel is fetched with ``pip download --no-deps resemblyzer==0.1.4`` and never installed: it wants torch
and librosa. Its weights are a pickle of torch's form before zip archives, read here without torch and
without running anything that a pickle may name. Two thirds of it is the optimiser's and is left out; the
rest is stored in half precision. What is computed is described in `handsfree/hear/voices.py`.
"""

from __future__ import annotations

import io
import pickle
import sys
import zipfile
from collections import OrderedDict
from pathlib import Path
from typing import Any

import numpy as np
import onnx
from numpy.typing import NDArray
from onnx import TensorProto, helper, numpy_helper

Arrays = dict[str, NDArray[np.float32]]

_MEMBER = "resemblyzer/pretrained.pt"
_MAGIC = 0x1950A86A20F9469CFC6C
_BANDS, _HIDDEN, _LAYERS = 40, 256, 3
_SECTIONS = {"FloatStorage": "<f4", "LongStorage": "<i8"}


class _Reader(pickle.Unpickler):
    """Reads torch's pickles as plain data: nothing but a few names is resolved, none of them torch's."""

    def __init__(self, file: io.BytesIO) -> None:
        super().__init__(file)
        self.storages: dict[str, tuple[str, int]] = {}

    def find_class(self, module: str, name: str) -> Any:
        if (module, name) == ("collections", "OrderedDict"):
            return OrderedDict
        if (module, name) == ("torch._utils", "_rebuild_tensor_v2"):
            return lambda storage, offset, size, stride, *_: (storage, offset, size, stride)
        if module == "torch" and name in _SECTIONS:
            return _SECTIONS[name]
        raise pickle.UnpicklingError(f"the weights name {module}.{name}, which they did not before")

    def persistent_load(self, pid: Any) -> str:
        _, kind, key, _, count, *_ = pid
        self.storages[str(key)] = (kind, count)
        return str(key)


def read_weights(data: bytes) -> Arrays:
    """Return the network's arrays by name, from torch's older form of a file.

    Raises:
        pickle.UnpicklingError: it is another form, or names what it should not.
    """
    file = io.BytesIO(data)
    if _Reader(file).load() != _MAGIC:
        raise pickle.UnpicklingError("not a weights file of torch's older form")
    for _ in range(2):
        _Reader(file).load()
    reader = _Reader(file)
    tensors = reader.load()["model_state"]
    storages = {}
    for key in _Reader(file).load():
        kind, count = reader.storages[str(key)]
        file.read(8)  # the count once more
        storages[str(key)] = np.frombuffer(file.read(count * np.dtype(kind).itemsize), kind)
    return {
        name: np.lib.stride_tricks.as_strided(
            storages[key][offset:], size, [step * storages[key].itemsize for step in stride]
        ).copy()
        for name, (key, offset, size, stride) in tensors.items()
    }


def _gates(array: NDArray[np.float32]) -> NDArray[np.float32]:
    """Reorder the gates of torch (in, forget, cell, out) as ONNX has them (in, out, forget, cell)."""
    into, forget, cell, out = np.split(array, 4)
    return np.concatenate([into, out, forget, cell])


def graph(weights: Arrays) -> onnx.ModelProto:
    """Return the network: (batch, frames, 40) of mel energies to (batch, 256) of length 1."""
    stored: list[Any] = []
    nodes: list[Any] = []

    def half(name: str, array: NDArray[np.float32]) -> str:
        stored.append(numpy_helper.from_array(array.astype(np.float16), f"{name}.half"))
        nodes.append(helper.make_node("Cast", [f"{name}.half"], [name], to=TensorProto.FLOAT))
        return name

    nodes.append(helper.make_node("Transpose", ["mels"], ["x0"], perm=[1, 0, 2]))
    for layer in range(_LAYERS):
        w, r, b, c = (
            weights[f"lstm.{part}_l{layer}"] for part in ("weight_ih", "weight_hh", "bias_ih", "bias_hh")
        )
        inputs = [
            f"x{layer}",
            half(f"w{layer}", _gates(w)[None]),
            half(f"r{layer}", _gates(r)[None]),
            half(f"b{layer}", np.concatenate([_gates(b), _gates(c)])[None]),
        ]
        nodes.append(helper.make_node("LSTM", inputs, [f"y{layer}", f"h{layer}"], hidden_size=_HIDDEN))
        nodes.append(helper.make_node("Squeeze", [f"y{layer}", "axis1"], [f"x{layer + 1}"]))
    nodes += [
        helper.make_node("Squeeze", [f"h{_LAYERS - 1}", "axis0"], ["last"]),
        helper.make_node(
            "Gemm",
            ["last", half("linear", weights["linear.weight"]), half("bias", weights["linear.bias"])],
            ["raw"],
            transB=1,
        ),
        helper.make_node("Relu", ["raw"], ["positive"]),
        helper.make_node("LpNormalization", ["positive"], ["voices"], axis=1, p=2),
    ]
    stored += [numpy_helper.from_array(np.array([axis], np.int64), f"axis{axis}") for axis in (0, 1)]
    made = helper.make_graph(
        nodes,
        "voices",
        [helper.make_tensor_value_info("mels", TensorProto.FLOAT, ["batch", "frames", _BANDS])],
        [helper.make_tensor_value_info("voices", TensorProto.FLOAT, ["batch", _HIDDEN])],
        stored,
    )
    model = helper.make_model(made, opset_imports=[helper.make_opsetid("", 17)], ir_version=8)
    onnx.checker.check_model(model)
    return model


def main(wheel: Path, out: Path) -> int:
    """Convert the wheel's weights."""
    with zipfile.ZipFile(wheel) as archive:
        weights = read_weights(archive.read(_MEMBER))
    onnx.save(graph(weights), out)
    print(f"{out}: {out.stat().st_size / 1e6:.2f} MB")
    return 0


if __name__ == "__main__":
    sys.exit(main(Path(sys.argv[1]), Path(sys.argv[2])))
