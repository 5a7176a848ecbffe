"""Shared parts of the measuring scripts: show results, store them, and state their origin.

Every table ends in one line that names its date, commit and machine and, where the recogniser was measured,
its encoder by the first digits of the file's SHA-256.
"""

from __future__ import annotations

import hashlib
import json
import os
import re
import subprocess
from collections.abc import Iterable
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

HERE = Path(__file__).parent
ROOT = HERE.parents[1]
ENCODER = ROOT / "handsfree" / "hear" / "encoder_adapted.onnx"
ORIGIN = re.compile(
    r"^Measured (?P<date>\d{4}-\d\d-\d\d) at commit (?P<commit>[0-9a-f]{7,12})(?: with changes)?; "
    r"(?P<machine>\d+ cores, [^;]+|machine unknown)(?:; encoder (?P<encoder>[0-9a-f]{12}))?\.$",
    re.MULTILINE,
)

# Tables of what is heard, which another encoder would change; and of what an encoder of this size costs.
OF_THE_EARS = (
    "accuracy",
    "lasting",
    "beside_talk",
    "chatter",
    "reliability",
    "people",
    "speakers",
    "conversation",
    "replies",
)
OF_ITS_COST = ("latency", "idle", "soak", "start", "job")


def shown(results: Iterable[dict[str, Any]]) -> list[dict[str, Any]]:
    """Print each result as one JSON object a line as soon as it is there, and return them all."""
    kept = []
    for result in results:
        kept.append(result)
        print(json.dumps(result), flush=True)
    return kept


def keep(
    name: str, results: Any, table: str, note: str = "", *, ears: bool = True, folder: Path = HERE
) -> None:
    """Write a table with its origin to ``NAME.md`` and the results, unless None, to ``NAME.json``.

    Args:
        name: of the measuring script.
        results: JSON-ready.
        table: Markdown.
        note: stands below it.
        ears: whether the shipped encoder was at work.
        folder: where to write.
    """
    if results is not None:
        (folder / f"{name}.json").write_text(json.dumps(results, indent=1) + "\n", "utf-8")
    parts = [part.rstrip() for part in (table, note, origin(ears=ears)) if part]
    (folder / f"{name}.md").write_text("\n\n".join(parts) + "\n", "utf-8")


def origin(*, ears: bool) -> str:
    """Return the line that says when, at which commit, on what machine and with which encoder."""
    date = datetime.now(UTC).date().isoformat()
    encoder = f"; encoder {encoder_hash()}" if ears else ""
    return f"Measured {date} at commit {_commit()}; {os.cpu_count()} cores, {processor()}{encoder}."


def encoder_hash() -> str:
    """Return the first twelve hex digits of the SHA-256 of the shipped encoder."""
    return hashlib.sha256(ENCODER.read_bytes()).hexdigest()[:12]


def processor() -> str:
    """Name the processor, and say whether it has the instructions that quantised networks gain most from."""
    about = Path("/proc/cpuinfo").read_text(encoding="utf-8") if Path("/proc/cpuinfo").exists() else ""
    name = next((line.split(":")[1].strip() for line in about.splitlines() if "model name" in line), "")
    return f"{name or 'unnamed'}, {'with' if '_vnni' in about else 'without'} VNNI"


def _commit() -> str:
    """Return the short hash of the commit, and whether code differs from it."""

    def git(*arguments: str) -> str:
        done = subprocess.run(["git", "-C", ROOT, *arguments], capture_output=True, text=True, check=True)
        return done.stdout

    changed = [
        line
        for line in git("status", "--porcelain", "--untracked-files=no").splitlines()
        if not line.endswith((".md", ".json"))  # other tables, written just before
    ]
    return git("rev-parse", "--short", "HEAD").strip() + " with changes" * bool(changed)
