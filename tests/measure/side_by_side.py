"""An older commit beside this one: cold start, a session by keys, and decoding, alternately in one run.

    python -m tests.measure.side_by_side COMMIT                 the working tree beside a commit
    python -m tests.measure.side_by_side COMMIT --new COMMIT    two commits
    python -m tests.measure.side_by_side COMMIT --runs 15 --write

Runs of both alternate, so that whatever else the machine does falls on both alike; the order turns around
each time. Wall time counts for a person, processor time is less disturbed by others. The figure is the ratio
of medians: below one, the newer is faster. Both are run by this Python with its packages, without installing.
"""

from __future__ import annotations

import argparse
import json
import os
import shutil
import subprocess
import sys
import tempfile
import time
from dataclasses import dataclass, field
from pathlib import Path
from statistics import median

from tests.measure.results import ROOT, keep

PLAN = ROOT / "demo" / "plan.toml"
PHRASES = 6  # decoded by each run of `hear`
KEYS = "15.5 Enter\n18 Enter\n19 Enter\n"


@dataclass
class Measured:
    """What the runs of one command by one tree took, in seconds."""

    wall_s: list[float] = field(default_factory=list)
    processor_s: list[float] = field(default_factory=list)
    decoding_s: list[float] = field(default_factory=list)


def commands(folder: Path) -> dict[str, list[str]]:
    """Return the command lines by what they measure. Both trees hear the same files."""
    keys = folder / "some.keys"
    keys.write_text(KEYS)
    recordings = sorted((ROOT / "demo" / "recordings").glob("*.ogg"))[:PHRASES]
    hear = ["hear", str(PLAN), "--json", "--recogniser", "phrase"]
    return {
        "handsfree --help": ["--help"],
        "handsfree replay, three readings by key": ["replay", str(PLAN), str(keys)],
        "handsfree hear, one phrase": [*hear, str(recordings[0])],
        f"handsfree hear, {len(recordings)} phrases": [*hear, *map(str, recordings)],
    }


def checked_out(commit: str, folder: Path) -> Path:
    """Unpack the program of a commit, and return the folder."""
    tree = folder / commit.replace("/", "-")
    tree.mkdir()
    archive = subprocess.run(
        ["git", "-C", ROOT, "archive", commit, "handsfree", "grammars"], capture_output=True, check=True
    )
    subprocess.run(["tar", "-x", "-C", tree], input=archive.stdout, check=True)
    return tree


def run(tree: Path, arguments: list[str], home: Path, into: Measured) -> None:
    """Run one command of a tree to its end, and note what it took."""
    environment = {**os.environ, "PYTHONPATH": str(tree), "XDG_DATA_HOME": str(home), "HOME": str(home)}
    command = [sys.executable, "-m", "handsfree.cli", *arguments]
    began = time.perf_counter()
    with subprocess.Popen(command, stdout=subprocess.PIPE, cwd=home, env=environment) as process:
        assert process.stdout is not None
        told = process.stdout.read()
        _, status, used = os.wait4(process.pid, 0)
        process.returncode = os.waitstatus_to_exitcode(status)
    if process.returncode:
        sys.exit(f"{' '.join(command)} ended with {process.returncode} in {tree}")
    into.wall_s.append(time.perf_counter() - began)
    into.processor_s.append(used.ru_utime + used.ru_stime)
    if "--json" in arguments:
        forms = [json.loads(line) for line in told.splitlines()]
        into.decoding_s += [form["decode_ms"] / 1000 for form in forms if form["heard"]]


def compared(trees: tuple[Path, Path], runs: int, folder: Path) -> dict[str, tuple[Measured, Measured]]:
    """Run every command alternately in both trees, the first time unmeasured."""
    found = {}
    for name, arguments in commands(folder).items():
        pair = Measured(), Measured()
        for number in range(-1, runs):
            for one in (0, 1) if number % 2 else (1, 0):
                run(trees[one], arguments, folder, pair[one] if number >= 0 else Measured())
        found[name] = pair
        print(f"{name}: {runs} runs of each", file=sys.stderr, flush=True)
    return found


def rows(found: dict[str, tuple[Measured, Measured]]) -> list[dict[str, object]]:
    """Return the medians and their ratios."""
    made = []
    for name, (old, new) in found.items():
        of = {"wall": (old.wall_s, new.wall_s), "processor": (old.processor_s, new.processor_s)}
        if len(old.decoding_s) > len(old.wall_s):  # several phrases: of one, the start is the point
            of["decoding a phrase"] = (old.decoding_s, new.decoding_s)
        for what, (before, after) in of.items():
            was, now = median(before), median(after)
            made.append({"command": name, "time": what, "old_s": was, "new_s": now, "ratio": now / was})
    return made


def main() -> None:
    """Measure and print."""
    parser = argparse.ArgumentParser(
        description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter
    )
    parser.add_argument("old", metavar="COMMIT", help="the older commit")
    parser.add_argument("--new", metavar="COMMIT", help="instead of the working tree")
    parser.add_argument("--runs", type=int, default=9, metavar="N", help="of each command and tree (9)")
    parser.add_argument(
        "--write", action="store_true", help="write side_by_side.json and .md beside this file"
    )
    options = parser.parse_args()
    folder = Path(tempfile.mkdtemp())
    try:
        trees = checked_out(options.old, folder), checked_out(options.new, folder) if options.new else ROOT
        load = os.getloadavg()[0]
        made = rows(compared(trees, options.runs, folder))
    finally:
        shutil.rmtree(folder)
    table = ["| command | time | old, s | new, s | new to old |", "| --- | --- | --- | --- | --- |"]
    table += [
        f"| {row['command']} | {row['time']} | {row['old_s']:.3f} | {row['new_s']:.3f} | {row['ratio']:.2f} |"
        for row in made
    ]
    note = (
        f"Old: {options.old}; new: {options.new or 'this commit'}; medians of {options.runs} runs of each, "
        f"alternately; load before {load:.1f}."
    )
    print("\n".join([*table, "", note]))
    if options.write:
        keep("side_by_side", made, "\n".join(table), note)


if __name__ == "__main__":
    main()
