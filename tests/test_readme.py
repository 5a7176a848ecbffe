"""README.md says what is so: its commands run, its session and its tables are the real ones."""

from __future__ import annotations

import os
import re
import shlex
import subprocess
import sys
from pathlib import Path

import pytest

from handsfree.cli import main
from tests.measure.publish import PLACE, listing_of, session_in, with_tables
from tests.support.program import PLAN, ROOT, handsfree_here, refusal

README = (ROOT / "README.md").read_text("utf-8")
COMMANDS = [line[2:] for line in README.splitlines() if line.startswith("$ ")]


@pytest.mark.quick
def test_tables_are_those_that_the_benches_wrote() -> None:
    assert len(PLACE.findall(README)) >= 5
    assert with_tables(README) == README, "run: python -m tests.measure.publish"


@pytest.mark.quick
def test_every_file_that_it_links_to_is_there() -> None:
    links = re.findall(r"\]\((?!http)([^)#]+)", README)
    assert "DEVELOPERS.md" in links
    assert [link for link in links if not (ROOT / link).exists()] == []


@pytest.mark.quick
@pytest.mark.parametrize("name", ["README.md", "DEVELOPERS.md", "docs/records.md", "docs/plans.md"])
def test_every_path_that_a_page_names_is_there(name: str) -> None:
    text = (ROOT / name).read_text("utf-8")
    paths = re.findall(r"`((?:\./)?(?:handsfree|tests|demo|grammars|audio_fixtures|docs)/[\w./-]*)`", text)
    assert len(paths) > 2
    made = ("demo/out",)
    assert [path for path in paths if not path.startswith(made) and not (ROOT / path).exists()] == []


@pytest.mark.quick
def test_every_bench_that_a_page_names_is_there() -> None:
    text = README + (ROOT / "DEVELOPERS.md").read_text("utf-8")
    names = set(re.findall(r"python -m (tests\.bench\.[a-z_]+)", text))
    assert len(names) > 4
    assert [name for name in names if not (ROOT / f"{name.replace('.', '/')}.py").exists()] == []


@pytest.mark.quick
def test_the_example_of_a_bad_plan_is_what_it_says(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    (tmp_path / "plan.toml").write_text(PLAN.read_text("utf-8").replace("order =", "ordr =", 1), "utf-8")
    monkeypatch.chdir(tmp_path)
    assert f"\nhandsfree: {refusal(handsfree_here('card', 'plan.toml'))}\n" in README


@pytest.mark.quick
def test_it_names_no_command_that_there_is_not() -> None:
    named = {words[1] for words in map(shlex.split, COMMANDS) if words[0] == "handsfree"}
    named |= set(re.findall(r"`handsfree ([a-z]+)", README))
    helped = handsfree_here("--help").stdout
    assert {name for name in named if not re.search(rf"^ +{name}\b", helped, re.MULTILINE)} == set()


@pytest.mark.quick
def test_its_scripts_are_there_and_can_be_run() -> None:
    scripts = [words[0] for words in map(shlex.split, COMMANDS) if words[0] != "handsfree"]
    assert scripts == ["./demo/run", "./tests/run"]
    assert all(os.access(ROOT / script, os.X_OK) for script in scripts)


def test_its_commands_run_one_after_the_other(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsysbinary: pytest.CaptureFixture[bytes]
) -> None:
    (tmp_path / "demo").symlink_to(ROOT / "demo")
    monkeypatch.chdir(tmp_path)
    ran = 0
    for words in map(shlex.split, COMMANDS):
        if words[0] == "handsfree":
            assert main(words[1:]) == 0, (words, capsysbinary.readouterr().err)
            ran += 1
    assert ran >= 6
    assert (tmp_path / "monday.csv").read_bytes().startswith(b"number,check,")


def test_the_session_is_what_the_demo_prints_and_no_wrong_number_is_logged(tmp_path: Path) -> None:
    done = subprocess.run(
        [sys.executable, ROOT / "demo" / "session.py", "--out", tmp_path / "out"],
        capture_output=True,
        text=True,
        encoding="utf-8",
        check=False,
    )
    assert done.returncode == 0, done.stdout[-2000:] + done.stderr
    assert listing_of(done.stdout) == session_in(README), "run: python -m tests.measure.publish --session"
