"""Shared parts of the measurements of a live session: a bench that prints lines, and storing the results."""

from __future__ import annotations

import argparse
import json
import subprocess
import sys
from collections.abc import Callable
from pathlib import Path
from typing import Any

from tests.measure.results import keep
from tests.support.room import Room

ROOT = Path(__file__).parents[2]


def start_plain(room: Room, folder: Path, *options: str) -> subprocess.Popen[str]:
    """Start a bench with lines instead of a display, without keys; its journal and cache are in `folder`."""
    command = [
        *[sys.executable, "-m", "handsfree.cli", "bench", str(ROOT / "demo/plan.toml"), "--plain"],
        *["--journal", str(folder / "log.journal"), "--recogniser", "phrase", "--no-adapt", *options],
    ]
    return subprocess.Popen(
        command,
        env=room.env | {"PYTHONPATH": str(ROOT), "XDG_CACHE_HOME": str(folder)},
        stdin=subprocess.DEVNULL,
        stdout=subprocess.PIPE,
        stderr=subprocess.DEVNULL,
        text=True,
    )


def add_results_options(parser: argparse.ArgumentParser) -> None:
    """Let the command line say where results go: `leave` reads these."""
    parser.add_argument("--out", type=Path)
    parser.add_argument("--write", action="store_true", help="write JSON and table beside this file")


def leave(
    name: str,
    result: dict[str, Any],
    table: Callable[[dict[str, Any]], str],
    options: argparse.Namespace,
    *,
    ears: bool = True,
) -> None:
    """Print the result; write it to --out, and with --write keep it with its table."""
    printed = json.dumps(result, indent=1)
    print(printed)
    if options.out:
        options.out.write_text(printed + "\n", encoding="utf-8")
    if options.write:
        keep(name, result, table(result), ears=ears)
