"""The build of the twin: its story is true of its plan, and its recordings replay without a wrong number."""

from __future__ import annotations

import csv
import json
import subprocess
import sys
from pathlib import Path

import pytest

from handsfree.journal import Journal, Kind
from handsfree.length import length
from handsfree.planfile import load_plan
from tests.dialogue.talk import Clock, Talk
from tests.support.program import ROOT

sys.path.insert(0, str(ROOT / "demo"))
sys.path.insert(0, str(ROOT / "demo" / "build"))
from tally import Outcome, tally
from twin import KEYPAD, STORY

BUILD = ROOT / "demo" / "build"
TALK = "ignore"


def rows() -> list[dict[str, str]]:
    with (BUILD / "recordings" / "manifest.csv").open(encoding="utf-8", newline="") as file:
        return list(csv.DictReader(file))


def as_told() -> Talk:
    """A session in which every line of the story was heard as it was said."""
    bench = Talk(load_plan(BUILD / "plan.toml"), Journal.in_memory(clock=Clock()))
    for line in STORY:
        if line.expect != TALK:
            bench.key(line.text) if line.voice == KEYPAD else bench.say(line.text.replace(",", ""))
    return bench


@pytest.mark.quick
def test_the_manifest_is_the_storys_and_every_file_of_it_is_there():
    told = [row for line in STORY for row in line.rows()]
    assert [{name: row[name] for name in told[0]} for row in rows()] == told
    listed = (BUILD / "recordings" / "session.txt").read_text("utf-8").split()
    assert listed == list(dict.fromkeys(row["file"] for row in rows()))
    assert {path.name for path in (BUILD / "recordings").iterdir()} == {
        *listed,
        "manifest.csv",
        "session.txt",
    }


@pytest.mark.quick
def test_heard_as_it_was_said_the_story_gives_the_values_and_verdicts_that_were_worked_out_by_hand():
    bench = as_told()
    logged = [event for event in bench.journal.events() if event.kind in (Kind.READING, Kind.CORRECTION)]
    wanted = [(line, row) for line in STORY for row in line.rows() if row["value"]]
    for event, (line, row) in zip(logged, wanted, strict=True):
        draft = event.draft
        assert (draft.check, draft.position.key) == (row["check"], row["place"]), line.text
        assert draft.value == length(row["value"], row["unit"]), line.text
        assert (draft.verdict or "", draft.bound or "") == (row["verdict"], row["bound"]), line.text
        if row["left"]:
            assert draft.remaining == length(row["left"], "mm"), line.text


@pytest.mark.quick
def test_the_story_goes_through_every_check_by_voice_and_by_key_and_ends_with_nothing_left():
    bench = as_told()
    assert bench.session.finished
    assert set(bench.session.hands) == {check.name for check in bench.plan.checks}
    for check in bench.plan.checks:
        assert set(bench.session.results(check.name)) == set(check.positions)
    changes = [line.voice == KEYPAD for line in STORY if line.text.startswith(("check ", ".*"))]
    assert {True, False} == set(changes)


@pytest.fixture(scope="module")
def replayed(tmp_path_factory) -> tuple[subprocess.CompletedProcess[str], Path]:
    out = tmp_path_factory.mktemp("build") / "out"
    done = subprocess.run(
        [sys.executable, ROOT / "demo" / "session.py", "build", "--out", out],
        capture_output=True,
        text=True,
        encoding="utf-8",
        cwd=ROOT,
        timeout=300,
        check=False,
    )
    return done, out


def test_the_recordings_replay_with_no_wrong_number_and_nearly_all_of_them_right(replayed):
    done, out = replayed
    assert done.returncode == 0, done.stdout + done.stderr
    assert "Wrong numbers logged: 0" in done.stdout
    counts = tally(rows(), json.loads((out / "session.json").read_text("utf-8")))
    assert counts.wrong == 0
    right = sum(found is Outcome.RIGHT for _, found in counts.values)
    assert len(counts.values) == 39
    assert right >= 36, counts.lines()  # on the machine that it was made on, all of them


def test_the_replay_ends_in_the_table_of_every_check(replayed):
    done, _ = replayed
    table = done.stdout.partition("handsfree journal show")[2]
    plan = load_plan(BUILD / "plan.toml")
    at = [table.index(f"\n{check.name}\n") for check in plan.checks]
    assert at == sorted(at)
    assert "0.057 mm; bore 79.507 mm; skirt 79.45 mm" in table
    assert "keep the shim" in table


def test_the_script_names_the_build():
    run = (BUILD / "run").read_text("utf-8")
    assert (BUILD / "run").stat().st_mode & 0o111
    assert '/../run" build "$@"' in run
    said = subprocess.run(
        ["bash", "-n", str(ROOT / "demo" / "run")], capture_output=True, text=True, check=False
    )
    assert said.returncode == 0, said.stderr
