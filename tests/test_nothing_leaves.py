"""Nothing leaves the machine: whole sessions without a network, their system calls traced by strace."""

from __future__ import annotations

import ast
import os
import shutil
import subprocess
import sys
from pathlib import Path

import pytest

from tests.support.program import PLAN, RECORDINGS, ROOT
from tests.support.room import Room, available

# The packages of a machine-learning runtime that reports unless it is told not to before it is imported.
REPORTS = "onnxruntime"


def without_network() -> list[str]:
    """Return the command that runs another one in a network namespace with nothing in it."""
    for command in (["unshare", "-n"], ["unshare", "-r", "-n"]):
        if shutil.which("unshare") and not subprocess.call([*command, "true"], stderr=subprocess.DEVNULL):
            return command
    return []


def may_trace() -> bool:
    """Tell whether strace is here and allowed to trace."""
    command = ["strace", "-f", "-o", os.devnull, "-e", "trace=network", "true"]
    return shutil.which("strace") is not None and not subprocess.call(command, stderr=subprocess.DEVNULL)


class Traced:
    """Runs the program without a network and keeps what it did: its sockets and the files in a fresh home."""

    def __init__(self, folder: Path) -> None:
        self.home, self.trace = folder / "home", folder / "trace"
        self.home.mkdir()

    def run(self, *arguments: str | Path, keys: str = "", **environment: str) -> str:
        """Run one command to its end and return what it printed; keys go to its standard input."""
        # switched on, as by the user of another program: the program must not obey it
        fresh = {"ORT_DISABLE_TELEMETRY": "0", "HOME": str(self.home), "PYTHONPATH": str(ROOT)}
        kept = {name: value for name, value in os.environ.items() if not name.startswith("XDG_")}
        trace = ["strace", "-f", "-qq", "-e", "trace=network", "-o", str(self.trace)]
        done = subprocess.run(
            [*without_network(), *trace, sys.executable, "-m", "handsfree.cli", *map(str, arguments)],
            env=kept | environment | fresh,
            input=keys,
            capture_output=True,
            text=True,
            timeout=300,
            check=False,
        )
        assert done.returncode == 0, done.stderr
        return done.stdout

    @property
    def internet(self) -> list[str]:
        """Every system call that has to do with an internet socket."""
        return [line for line in self.trace.read_text("utf-8", "replace").splitlines() if "AF_INET" in line]

    @property
    def cached(self) -> list[Path]:
        """The files in the user's cache that aren't the program's own."""
        own = self.home / ".cache" / "handsfree"
        files = [path for path in (self.home / ".cache").rglob("*") if path.is_file()]
        return [path for path in files if not path.is_relative_to(own)]


@pytest.fixture
def traced(tmp_path: Path) -> Traced:
    if not without_network():
        pytest.skip("no network namespace may be made here (unshare -n)")
    if not may_trace():
        pytest.skip("strace isn't here or may not trace")
    return Traced(tmp_path)


def test_a_whole_replay_opens_no_internet_socket_and_leaves_nothing_in_the_cache(
    traced: Traced, tmp_path: Path
) -> None:
    names = ("01-michael.ogg", "09-keypad.keys", "13-george.ogg")
    printed = traced.run(
        *("replay", PLAN, *(RECORDINGS / name for name in names), "--recogniser", "phrase"),
        *("--journal", tmp_path / "log.journal", "--say", tmp_path / "said"),
    )
    assert "One top, fourteen and a half." in printed
    assert traced.internet == []
    assert traced.cached == []


def test_a_whole_bench_opens_no_internet_socket_and_leaves_nothing_in_the_cache(
    traced: Traced, tmp_path: Path
) -> None:
    printed = traced.run(
        *("bench", PLAN, "--plain", "--silent", "--no-microphone", "--recogniser", "phrase"),
        *("--journal", tmp_path / "log.journal"),
        keys="3*1*18\n0*\n+\n",
    )
    assert "answer: Three top, eighteen. Good." in printed
    assert traced.internet == []
    assert traced.cached == []


@pytest.mark.skipif(not available(), reason="no PulseAudio here")
def test_a_whole_bench_with_sound_opens_no_internet_socket_and_leaves_nothing_in_the_cache(
    traced: Traced, tmp_path: Path
) -> None:
    with Room() as room:
        sound = {name: value for name, value in room.env.items() if name.startswith(("PULSE_", "XDG_CONFIG"))}
        printed = traced.run(
            *("bench", PLAN, "--plain", "--recogniser", "phrase", "--journal", tmp_path / "log.journal"),
            keys="3*1*18\n0*\n+\n",
            **sound,
        )
    assert "answer: Three top, eighteen. Good." in printed
    assert traced.internet == []
    assert traced.cached == []


@pytest.mark.quick
def test_every_file_that_imports_what_reports_is_told_before_not_to() -> None:
    """The package's own modules are: its first module does it. Others must do it themselves, further up."""
    told = 'os.environ["ORT_DISABLE_TELEMETRY"] = "1"'
    assert told in (ROOT / "handsfree" / "__init__.py").read_text("utf-8")
    for folder in ("audio_fixtures", "demo", "tests"):
        for path in sorted((ROOT / folder).rglob("*.py")):
            text = path.read_text("utf-8")
            lines = [
                node.lineno
                for node in ast.walk(ast.parse(text))
                if isinstance(node, ast.Import | ast.ImportFrom)
                and REPORTS in (getattr(node, "module", "") or "", *(each.name for each in node.names))
            ]
            if lines:
                above = "\n".join(text.splitlines()[: min(lines)])
                assert told in above or "import handsfree" in above or "from handsfree" in above, path
