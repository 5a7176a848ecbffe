"""The examples in the docstrings of the room."""

import doctest
import importlib
import pkgutil

import pytest

import handsfree.plan

pytestmark = pytest.mark.quick


@pytest.mark.parametrize(
    "name", sorted(found.name for found in pkgutil.iter_modules(handsfree.plan.__path__))
)
def test_examples_in_docstrings_are_true(name):
    module = importlib.import_module(f"handsfree.plan.{name}")
    assert doctest.testmod(module).failed == 0
