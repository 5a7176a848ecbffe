"""The rooms: no door hands out what nobody else takes, no room and no module grows too large."""

from __future__ import annotations

import ast
from functools import cache
from pathlib import Path

import pytest

pytestmark = pytest.mark.quick

PACKAGE = Path(__file__).parents[1] / "handsfree"
LONGEST_MODULE = 450
MOST_MODULES = 180
LARGEST_SHARE = 0.1  # of the lines that are shipped; training is not
ROOMS = sorted(
    path.parent.name
    for path in PACKAGE.glob("*/__init__.py")
    if path.parent.name not in ("training", "commands")
)


@cache
def shipped() -> dict[Path, str]:
    return {path: path.read_text() for path in PACKAGE.rglob("*.py") if "training" not in path.parts}


@cache
def taken(room: str) -> frozenset[str]:
    """Names that files outside a room take through its door."""
    root = PACKAGE.parent
    outside = [
        *root.glob("demo/**/*.py"),
        *root.glob("tests/measure/*.py"),
        *root.glob("audio_fixtures/*.py"),
    ]
    outside += [path for path in PACKAGE.rglob("*.py") if path.parent.name != room]
    found = set()
    for path in outside:
        text = path.read_text()
        if f"handsfree.{room}" not in text and f"import {room}" not in text:
            continue
        for node in ast.walk(ast.parse(text)):
            if isinstance(node, ast.ImportFrom) and node.module == f"handsfree.{room}":
                found |= {alias.name for alias in node.names}
    return frozenset(found)


@pytest.mark.parametrize("room", ROOMS)
def test_a_door_hands_out_only_what_somebody_outside_takes(room):
    tree = ast.parse((PACKAGE / room / "__init__.py").read_text())
    names = {
        name
        for node in tree.body
        if isinstance(node, ast.Assign) and getattr(node.targets[0], "id", "") == "__all__"
        for name in ast.literal_eval(node.value)
    }
    assert names - taken(room) == set()


def test_no_module_is_longer_than_can_be_read_at_once():
    assert {
        path.name: text.count("\n") for path, text in shipped().items() if text.count("\n") > LONGEST_MODULE
    } == {}


def test_no_room_is_larger_than_a_tenth_of_what_is_shipped():
    total = sum(text.count("\n") for text in shipped().values())
    sizes = {
        room.parent.name: sum(
            text.count("\n") for path, text in shipped().items() if path.is_relative_to(room.parent)
        )
        for room in PACKAGE.glob("*/__init__.py")
    }
    assert {room: size for room, size in sizes.items() if size > LARGEST_SHARE * total} == {}


def test_modules_are_few_enough_to_be_known_by_name():
    assert len(shipped()) <= MOST_MODULES
