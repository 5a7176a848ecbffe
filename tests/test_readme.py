"""README.md and docs/ say what is so: commands run, sessions and tables are the real ones."""

from __future__ import annotations

import os
import pty
import re
import shlex
import subprocess
import sys
import threading
import tomllib
from pathlib import Path

import pytest

from handsfree.cli import main
from handsfree.journal import Journal
from handsfree.planfile import load_plan
from handsfree.understand import Word
from tests.dialogue.talk import Clock, Talk
from tests.measure.publish import (
    ANSWERS,
    FIRST_ENGINE,
    NOT_YET,
    PAGES,
    PART,
    first_engine,
    listing_in,
    listing_of,
    talk_of,
    with_files,
)
from tests.support.program import PLAN, ROOT, handsfree_here, refusal

MOST_BYTES = 11_264  # of the front page: whoever comes to it reads all of it
README = (ROOT / "README.md").read_text("utf-8")
DOCS = sorted((ROOT / "docs").glob("*.md"))
TEXTS = {path.relative_to(ROOT).as_posix(): path.read_text("utf-8") for path in DOCS} | {
    name: (ROOT / name).read_text("utf-8") for name in ("README.md", "DEVELOPERS.md")
}
COMMANDS = [line[2:] for line in README.splitlines() if line.startswith("$ ")]
CLI = ROOT / "docs" / "cli.md"  # made from the parsers
KEYED = ["--plain", "--no-microphone", "--silent"]  # a bench as a test can have it


def commands_in(text: str) -> set[str]:
    """Name the commands of handsfree that a page names, in line or in a listing."""
    named = re.findall(r"`handsfree ([a-z]+)", text)
    return set(named) | set(re.findall(r"^(?:\$ )?handsfree ([a-z]+)", text, re.MULTILINE))


@pytest.mark.quick
def test_the_front_page_can_be_read_in_one_go() -> None:
    assert len(README.encode()) <= MOST_BYTES


@pytest.mark.quick
@pytest.mark.parametrize("page", PAGES, ids=lambda path: path.name)
def test_tables_and_figures_are_those_that_were_measured(page: Path) -> None:
    text = page.read_text("utf-8")
    assert PART.search(text)
    assert with_files(text) == text, "run: python -m tests.measure.publish"


@pytest.mark.quick
def test_every_measured_table_is_on_the_page_of_tables() -> None:
    text = TEXTS["docs/measured.md"]
    shown = {part["file"] for part in PART.finditer(text)}
    assert {f"tests/measure/{path.name}" for path in (ROOT / "tests" / "measure").glob("*.md")} <= shown
    assert text.count(NOT_YET) <= 1


@pytest.mark.quick
@pytest.mark.parametrize("name", TEXTS)
def test_every_file_that_a_page_links_to_is_there(name: str) -> None:
    links = re.findall(r"\]\((?!http)([^)#]+)", TEXTS[name])
    folder = (ROOT / name).parent
    there = {link for link in links if (folder / link).exists() or (folder / link).resolve() == CLI}
    assert set(links) - there == set()


@pytest.mark.quick
def test_the_front_page_leads_to_every_page() -> None:
    linked = set(re.findall(r"\]\((?!http)([^)#]+)", README))
    assert {f"docs/{path.name}" for path in DOCS} <= linked
    assert {"DEVELOPERS.md", "CHANGELOG.md", "LICENSE", "NOTICE"} <= linked


@pytest.mark.quick
@pytest.mark.parametrize("name", TEXTS)
def test_every_picture_has_words_for_who_cannot_see_it(name: str) -> None:
    assert [words for words in re.findall(r"!\[([^\]]*)\]", TEXTS[name]) if len(words) < 20] == []


@pytest.mark.quick
@pytest.mark.parametrize("name", TEXTS)
def test_every_path_that_a_page_names_is_there(name: str) -> None:
    paths = re.findall(
        r"`((?:\./)?(?:handsfree|tests|demo|grammars|audio_fixtures|docs)/[\w./-]*)`", TEXTS[name]
    )
    made = ("demo/out",)
    assert [path for path in paths if not path.startswith(made) and not (ROOT / path).exists()] == []


@pytest.mark.quick
def test_every_module_that_a_page_runs_is_there() -> None:
    names = set(
        re.findall(r"python -m ((?:tests|handsfree)(?:\.[a-z_]+)+)\b(?!\.[A-Z])", "".join(TEXTS.values()))
    )
    assert len(names) > 15
    there = [f"{name.replace('.', '/')}.py" for name in names]
    assert [path for path in there if not (ROOT / path).exists()] == []


@pytest.mark.quick
def test_the_example_of_a_bad_plan_is_what_it_says(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    (tmp_path / "plan.toml").write_text(PLAN.read_text("utf-8").replace("order =", "ordr =", 1), "utf-8")
    monkeypatch.chdir(tmp_path)
    assert f"\nhandsfree: {refusal(handsfree_here('card', 'plan.toml'))}\n" in README


@pytest.mark.quick
@pytest.mark.parametrize("name", TEXTS)
def test_a_page_names_no_command_that_there_is_not(name: str) -> None:
    helped = handsfree_here("--help").stdout
    named = commands_in(TEXTS[name])
    assert {each for each in named if not re.search(rf"^ +{each}\b", helped, re.MULTILINE)} == set()


@pytest.mark.quick
def test_the_front_page_and_the_page_of_the_bench_name_no_option_that_there_is_not() -> None:
    helped = "".join(
        handsfree_here(*command, "--help").stdout
        for command in (
            ("bench",),
            ("check",),
            ("hear",),
            ("replay",),
            ("export",),
            ("journal", "play"),
            ("plan", "new"),
        )
    )
    for name in ("README.md", "docs/bench.md"):
        options = set(re.findall(r"(?<![\w-])--[a-z][a-z-]+", TEXTS[name])) - {"--play"}  # of ./demo/run
        assert {each for each in options if each not in helped} == set()


@pytest.mark.quick
def test_its_scripts_are_there_and_can_be_run() -> None:
    scripts = {words[0] for words in map(shlex.split, COMMANDS) if words[0] != "handsfree"}
    scripts |= set(re.findall(r"`(\./\S+?)[` ]", README))
    assert scripts == {"./demo/run", "./tests/run"}
    assert all(os.access(ROOT / script, os.X_OK) for script in scripts)


@pytest.mark.quick
def test_the_page_of_words_has_every_procedure_word() -> None:
    text = TEXTS["docs/words.md"].split("## Procedure words")[1]
    listed = re.findall(r"\*([a-z' ]+)\*", text)
    assert [word for word in Word if word not in listed] == []


@pytest.mark.quick
def test_the_table_of_rooms_has_every_room_in_the_order_that_is_held() -> None:
    contracts = tomllib.loads((ROOT / "pyproject.toml").read_text("utf-8"))["tool"]["importlinter"][
        "contracts"
    ]
    layers = [line.split(" : ") for line in next(each["layers"] for each in contracts if "layers" in each)]
    height = {name: n for n, names in enumerate(layers) for name in names}
    table = TEXTS["DEVELOPERS.md"].split("| from the top |")[1].split("\n\n")[0]
    rows = [re.findall(r"`handsfree/(\w+)", row.split(" | ")[0]) for row in table.splitlines()]
    listed = [name for row in rows for name in row]
    assert listed == sorted(listed, key=lambda name: height[name])
    rooms = {path.parent.name for path in (ROOT / "handsfree").glob("*/__init__.py")}
    assert len(rooms) > 10
    assert rooms <= set(listed)


def test_its_commands_run_one_after_the_other(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsysbinary: pytest.CaptureFixture[bytes]
) -> None:
    monkeypatch.chdir(tmp_path)
    ran = []
    for words in map(shlex.split, COMMANDS):
        if words[0] != "handsfree":
            continue  # scripts; the demo's has a test below
        if words[:3] == ["handsfree", "plan", "new"]:
            asked_at_a_terminal(words[1:], tmp_path)
        elif words[:2] == ["handsfree", "bench"]:
            assert talk_of(keyed_at_a_bench(words[1:], tmp_path)) == listing_in(README, "first engine")
        else:
            assert main(words[1:]) == 0, (words, capsysbinary.readouterr().err)
        ran.append(words[1])
    assert ran == ["plan", "card", "bench", "journal", "export", "journal"]
    assert (tmp_path / "monday.pdf").read_bytes().startswith(b"%PDF-")


def asked_at_a_terminal(arguments: list[str], folder: Path) -> None:
    """Run a command that asks, at a terminal, and type the answers of the first engine."""
    ours, theirs = pty.openpty()
    process = subprocess.Popen(
        [sys.executable, "-m", "handsfree.cli", *arguments],
        cwd=folder,
        env=os.environ | {"PYTHONPATH": str(ROOT)},
        stdin=theirs,
        stdout=theirs,
        stderr=theirs,
    )
    os.close(theirs)
    shown: list[bytes] = []

    def listen() -> None:
        try:
            while piece := os.read(ours, 4096):
                shown.append(piece)
        except OSError:  # the other end is closed
            return

    listener = threading.Thread(target=listen)
    listener.start()
    os.write(ours, "".join(f"{answer}\n" for answer in ANSWERS.values()).encode())
    assert process.wait(timeout=60) == 0, b"".join(shown)
    listener.join(timeout=60)
    os.close(ours)


def keyed_at_a_bench(arguments: list[str], folder: Path) -> str:
    """Run a bench on the keys of the first engine and return its output."""
    done = subprocess.run(
        [sys.executable, "-m", "handsfree.cli", *arguments, *KEYED],
        cwd=folder,
        env=os.environ | {"PYTHONPATH": str(ROOT)},
        input="".join(f"{keys}\n" for _, keys in FIRST_ENGINE),
        capture_output=True,
        text=True,
        encoding="utf-8",
        timeout=120,
        check=False,
    )
    assert done.returncode == 0, done.stderr
    return done.stdout


@pytest.mark.quick
def test_what_is_said_at_the_first_engine_is_answered_as_what_is_keyed_there() -> None:
    said, keyed = (Talk(load_plan(PLAN), Journal.in_memory(clock=Clock())) for _ in range(2))
    for words, keys in FIRST_ENGINE:
        answer = said.say(words.replace(",", "")).reply.text
        assert answer == keyed.key(keys).reply.text
        assert "again" not in answer


@pytest.mark.quick
def test_what_may_be_said_is_answered_as_the_keys_beside_it() -> None:
    table = README.split("## What you can say and key")[1].split("\n## ")[0]
    rows = [row.split(" | ") for row in table.splitlines() if '"' in row]
    assert len(rows) >= 8
    for phrases, keys, *_ in rows:
        entries = [key or "" for key in re.findall(r"`([^`]+)`|(?<=; )Enter", keys)]
        keyed = [at_the_bench().key(entry).reply.text for entry in entries]
        for words in re.findall(r'"([^"]+)"', phrases):
            assert at_the_bench().say(words.replace(",", "")).reply.text in keyed, words
        assert len(set(keyed)) == len(entries)


def at_the_bench() -> Talk:
    """A bench of the demo's plan with one reading."""
    talk = Talk(load_plan(PLAN), Journal.in_memory(clock=Clock()))
    talk.key("1*1*16")
    return talk


def test_the_first_engine_is_as_it_runs() -> None:
    assert first_engine() == listing_in(README, "first engine"), (
        "run: python -m tests.measure.publish --session"
    )


def test_the_session_is_what_the_demo_prints_and_no_wrong_number_is_logged(tmp_path: Path) -> None:
    done = subprocess.run(
        [sys.executable, ROOT / "demo" / "session.py", "--out", tmp_path / "out"],
        capture_output=True,
        text=True,
        encoding="utf-8",
        check=False,
    )
    assert done.returncode == 0, done.stdout[-2000:] + done.stderr
    shown = listing_in(README, "session")
    assert listing_of(done.stdout) == shown, "run: python -m tests.measure.publish --session"
    assert "Wrong numbers logged: 0" in shown


def test_the_recordings_of_the_page_of_the_bench_replay(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsysbinary: pytest.CaptureFixture[bytes]
) -> None:
    (tmp_path / "demo").symlink_to(ROOT / "demo")
    monkeypatch.chdir(tmp_path)
    listed = re.findall(r"^handsfree (.*)$", TEXTS["docs/bench.md"], re.MULTILINE)
    assert [line.split()[0] for line in listed] == ["replay", "export", "hear", "check", "models"]
    for line in listed:
        assert main(shlex.split(line)) == 0, (line, capsysbinary.readouterr().err)
    assert (tmp_path / "monday.csv").read_bytes().startswith(b"number,check,")
