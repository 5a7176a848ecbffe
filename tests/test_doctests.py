"""The examples in docstrings say what is so."""

from __future__ import annotations

import doctest
import importlib
import pkgutil
from types import ModuleType

import pytest

import handsfree

pytestmark = pytest.mark.quick

MODULES = sorted(
    module.name for module in pkgutil.walk_packages(handsfree.__path__, "handsfree.") if not module.ispkg
)
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
    assert result.failed == 0


def test_that_examples_are_found_at_all() -> None:
    finder = doctest.DocTestFinder(exclude_empty=True)
    found = [test for test in finder.find(load("handsfree.length")) if test.examples]
    assert len(found) > 3
