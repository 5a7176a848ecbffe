"""docs/cli.md is what the parsers say."""

from __future__ import annotations

import re

import pytest

from handsfree.cli import COMMANDS
from tests.docs_cli import PAGE, page
from tests.support.program import handsfree_here

pytestmark = pytest.mark.quick


def test_the_page_of_commands_is_current() -> None:
    assert PAGE.read_text("utf-8") == page(), "run: python -m tests.docs_cli"


def test_every_command_is_on_it_with_all_its_options() -> None:
    text = PAGE.read_text("utf-8")
    sections = dict(re.findall(r"^#{2,3} handsfree (.+)\n((?:(?!##).*\n)*)", text, re.MULTILINE))
    assert {listed.name for listed in COMMANDS} <= set(sections)
    for name, section in sections.items():
        helped = handsfree_here(*name.split(), "--help").stdout
        options = set(re.findall(r"^  (--[a-z-]+)", helped, re.MULTILINE))
        assert options - set(re.findall(r"--[a-z-]+", section)) == set(), name


def test_every_argument_has_its_meaning() -> None:
    assert re.findall(r"^.*\|\s+\|$", PAGE.read_text("utf-8"), re.MULTILINE) == []
