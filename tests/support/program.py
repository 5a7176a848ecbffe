"""The program as a person runs it: a process of its own, its output, its exit status."""

from __future__ import annotations

import contextlib
import io
import json
import os
import subprocess
import sys
from collections.abc import Mapping
from pathlib import Path
from typing import Any

from handsfree.cli import main

ROOT = Path(__file__).resolve().parents[2]
PLAN = ROOT / "demo" / "plan.toml"
RECORDINGS = ROOT / "demo" / "recordings"


def handsfree(
    *arguments: str | Path, cwd: Path | None = None, env: Mapping[str, str] | None = None
) -> subprocess.CompletedProcess[str]:
    """Run one command to its end, at most two minutes.

    No Vosk model of this machine's user can change what is heard, and nothing is kept in their home.
    """
    home = {} if cwd is None else {"XDG_STATE_HOME": str(cwd / "state"), "XDG_DATA_HOME": str(cwd / "data")}
    return subprocess.run(
        [sys.executable, "-m", "handsfree.cli", *map(str, arguments)],
        cwd=cwd,
        env={
            **{name: value for name, value in os.environ.items() if name != "HANDSFREE_VOSK_MODEL"},
            "PYTHONPATH": str(ROOT),
            **home,
            **(env or {}),
        },
        capture_output=True,
        text=True,
        encoding="utf-8",
        timeout=120,
        check=False,
    )


def handsfree_here(*arguments: str | Path) -> subprocess.CompletedProcess[str]:
    """Run one command within this process, which is quicker: for commands that end early."""
    out, errors = (io.TextIOWrapper(io.BytesIO(), encoding="utf-8", newline="") for _ in range(2))
    with contextlib.redirect_stdout(out), contextlib.redirect_stderr(errors):
        try:
            status = main([str(argument) for argument in arguments])
        except SystemExit as left:  # bad usage
            status = int(left.code or 0)
    printed = []
    for stream in (out, errors):
        stream.seek(0)
        printed.append(stream.read())
    return subprocess.CompletedProcess(arguments, status, *printed)


def objects(done: subprocess.CompletedProcess[str]) -> list[dict[str, Any]]:
    """Read what `--json` printed: one object a line, nothing else."""
    assert done.returncode == 0, done.stderr
    return [json.loads(line) for line in done.stdout.splitlines()]


def refusal(done: subprocess.CompletedProcess[str]) -> str:
    """Return the one sentence of a command that refused its input with exit status 2."""
    assert done.returncode == 2, (done.returncode, done.stdout, done.stderr)
    lines = done.stderr.splitlines()
    assert len(lines) == 1, done.stderr
    assert lines[0].startswith("handsfree: ")
    return lines[0].removeprefix("handsfree: ")
