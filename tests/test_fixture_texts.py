"""The fixtures' texts, taken through the grammar, mean what the manifest says they mean."""

from __future__ import annotations

import pytest

from handsfree.planfile import load_plan
from handsfree.recordings import ManifestRow, read_manifest
from handsfree.recordings.manifest import same_command
from handsfree.understand import Listening, listen_for, meanings
from tests.measure.accuracy import ROOT


@pytest.fixture(scope="module")
def listening() -> Listening:
    plan = load_plan(ROOT / "demo" / "plan.toml")
    return listen_for(plan, plan.checks[0])


@pytest.fixture(scope="module")
def rows() -> list[ManifestRow]:
    return read_manifest(ROOT / "audio_fixtures")


def words(row: ManifestRow) -> list[str]:
    return row.text.lower().replace(",", "").replace(".", "").split()


def test_every_command_means_what_the_manifest_says(listening: Listening, rows: list[ManifestRow]) -> None:
    commands = [row for row in rows if row.kind != "chatter"]
    assert len(commands) > 600
    for row in commands:
        found = meanings(words(row), listening.automaton, listening.context)
        assert len(found) == 1, (row.text, found)
        assert found[0].sure, row.text
        (command,) = found[0].commands
        assert same_command(row.expected(), command), (row.text, command)


def test_no_chatter_is_a_command_as_it_is_written(listening: Listening, rows: list[ManifestRow]) -> None:
    chatter = [row for row in rows if row.kind == "chatter"]
    assert len(chatter) > 60
    assert not [row.text for row in chatter if meanings(words(row), listening.automaton, listening.context)]
