"""The examples in docstrings say what is so."""

from __future__ import annotations

import doctest
import importlib
from pathlib import Path
from types import ModuleType

import pytest

import handsfree

pytestmark = pytest.mark.quick

HERE = Path(handsfree.__file__).parent


def _with_examples() -> list[str]:
    """Name the modules that hold an example, by their text: what can't be imported isn't passed over."""
    names = []
    for file in sorted(HERE.rglob("*.py")):
        if doctest.DocTestParser().get_examples(file.read_text("utf-8")):
            parts = ("handsfree", *file.relative_to(HERE).with_suffix("").parts)
            names.append(".".join(parts).removesuffix(".__init__"))
    return names


MODULES = _with_examples()
TRAINING_ONLY = frozenset({"jax", "onnx", "optax"})  # needed by no user of the program


def load(name: str) -> ModuleType:
    try:
        return importlib.import_module(name)
    except ModuleNotFoundError as missing:
        if missing.name not in TRAINING_ONLY:
            raise
        pytest.skip(f"{missing.name} is not installed; only training needs it")


@pytest.mark.parametrize("name", MODULES)
def test_examples_in_docstrings_hold(name: str) -> None:
    result = doctest.testmod(load(name))
    assert result.attempted > 0
    assert result.failed == 0


def test_that_examples_are_found_at_all() -> None:
    assert "handsfree.length" in MODULES
    assert len(MODULES) > 40
