"""Replay a demo's session, print what was heard and answered, and count what came of it.

    python demo/session.py [rings|build] [--recogniser phrase|vosk|auto] [--play] [--web [HOST:PORT]]

It runs the commands that a person would type, `handsfree replay`, `handsfree export` and, for the
build, `handsfree journal show`, and counts from the exported journal against the manifest of the
recordings. Exit status 0: no wrong number was
logged; 1: one was; 2: it could not be run.
"""

from __future__ import annotations

import argparse
import csv
import json
import os
import shlex
import shutil
import subprocess
import sys
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from browser import WEB, show_in_browser
from listen import play, write_conversation
from tally import tally

from handsfree.errors import HandsfreeError

HERE = Path(__file__).resolve().parent
OUT = HERE / "out"
CSV_COLUMNS = (
    "number",
    "cylinder",
    "ring",
    "value",
    "unit",
    "bound",
    "state",
    "verdict",
    "remaining",
    "source",
)

Json = dict[str, Any]


@dataclass(frozen=True)
class Demo:
    """One of the demos: its name, and the folder with its plan and recordings."""

    name: str
    folder: Path

    @property
    def plan(self) -> Path:
        """Its plan."""
        return self.folder / "plan.toml"

    @property
    def recordings(self) -> Path:
        """The folder of its recordings."""
        return self.folder / "recordings"


DEMOS = {"rings": Demo("rings", HERE), "build": Demo("build", HERE / "build")}


def main() -> int:
    """Run the demo."""
    parser = argparse.ArgumentParser(
        description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter
    )
    parser.add_argument("which", nargs="?", choices=tuple(DEMOS), default="rings", help="which demo (rings)")
    parser.add_argument("--recogniser", choices=("auto", "phrase", "vosk"), default="phrase")
    parser.add_argument("--play", action="store_true", help="play the whole session through the loudspeaker")
    parser.add_argument(
        "--web", nargs="?", const=WEB, metavar="HOST:PORT", help=f"show the session in a browser ({WEB})"
    )
    parser.add_argument(
        "--out", type=Path, default=OUT, metavar="DIR", help="a new folder (demo/out, made anew)"
    )
    options = parser.parse_args()
    out: Path = options.out
    demo = DEMOS[options.which]
    if out == OUT:
        shutil.rmtree(out, ignore_errors=True)
    try:
        out.mkdir(parents=True)
    except OSError as error:
        print(f'"{out}" can\'t be made: {error.strerror}; name a new folder', file=sys.stderr)
        return 2
    journal = out / "session.journal"
    forms: list[Json] = []
    try:
        if options.web:
            show_in_browser(demo.plan, demo.recordings, journal, options.recogniser, options.web)
        else:
            forms = list(_replayed(demo, options.recogniser, journal))
        for form in ("csv", "json", "xlsx", "pdf"):
            _export(journal, form)
    except HandsfreeError as fault:
        print(f"the demo stopped: {fault}", file=sys.stderr)
        return 2
    except subprocess.CalledProcessError as failed:
        print(f"the demo stopped: {failed.cmd[1]} ended with status {failed.returncode}", file=sys.stderr)
        return 2
    conversation = None if options.web else write_conversation(forms, demo.recordings, out / "session.wav")
    if demo.name == "build":
        wide = {} if sys.stdout.isatty() else {"COLUMNS": "120"}
        subprocess.run(_handsfree(["journal", "show", str(journal)]), check=True, env={**os.environ, **wide})
    else:
        _print_table(out / "session.csv")
    print(
        f"\nThe build sheet: {_short(journal.with_suffix('.pdf'))}; as a spreadsheet: session.xlsx beside it"
    )
    if conversation is None:
        return 0  # a live journal doesn't say which recording it was, so there is nothing to count by
    print(f"Answers as WAV: {_short(out / 'answers')}; the session to listen to: {_short(conversation)}")
    with (demo.recordings / "manifest.csv").open(encoding="utf-8", newline="") as file:
        counts = tally(list(csv.DictReader(file)), json.loads((out / "session.json").read_text("utf-8")))
    print("\n".join(counts.lines()))
    if options.play:
        play(conversation)
    return 1 if counts.wrong else 0


def _replayed(demo: Demo, recogniser: str, journal: Path) -> Iterator[Json]:
    """Run the replay and print each exchange as it comes."""
    command = [
        *("replay", str(demo.plan), f"@{demo.recordings / 'session.txt'}", "--recogniser", recogniser),
        "--no-adapt",  # the demo's voices are nobody's here
        *("--journal", str(journal), "--say", str(journal.parent / "answers"), "--json"),
    ]
    process = subprocess.Popen(_handsfree(command), stdout=subprocess.PIPE, text=True, encoding="utf-8")
    for line in process.stdout or ():
        form = json.loads(line)
        print("\n".join(_told(form)), flush=True)
        yield form
    if process.wait() != 0:
        raise subprocess.CalledProcessError(process.returncode, command)


def _handsfree(arguments: Sequence[str]) -> list[str]:
    """Give the command, and show it as a person would type it."""
    shown = [_short(Path(word)) if "/" in word and word[0] != "@" else word for word in arguments]
    shown = [f"@{_short(Path(word[1:]))}" if word[0] == "@" else word for word in shown]
    print(f"\n$ handsfree {shlex.join(shown)}\n", flush=True)
    return [sys.executable, "-m", "handsfree.cli", *arguments]


def _short(path: Path) -> str:
    return str(path.relative_to(HERE.parent)) if path.is_relative_to(HERE.parent) else str(path)


def _told(form: Json) -> list[str]:
    if "fault" in form:
        return [f"{form['file']:18} fault   {form['fault']}"]
    how = "keyed" if form.get("source") == "keypad" else {"ask": "unsure"}.get(form["outcome"], "heard")
    words = form["heard"] if form["outcome"] != "ignore" else "(talk that isn't for the bench)"
    lines = [f"{form['file']:18} {how:8}{words}"]
    if form.get("answer"):
        lines.append(f"{'':18} {'answer':8}{form['answer']}")
    return lines


def _export(journal: Path, form: str) -> None:
    command = ["export", str(journal), "--to", form, "--out", str(journal.with_suffix(f".{form}"))]
    subprocess.run(_handsfree(command), check=True)


def _print_table(path: Path) -> None:
    """Print the columns of the CSV that fit across a page, every row of them."""
    with path.open(encoding="utf-8", newline="") as file:
        rows = [[row[column] for column in CSV_COLUMNS] for row in csv.DictReader(file)]
    widths = [max(map(len, column)) for column in zip(CSV_COLUMNS, *rows, strict=True)]
    print(f"{_short(path)}, the columns that fit here:\n")
    for row in (CSV_COLUMNS, tuple("-" * width for width in widths), *rows):
        print("  ".join(f"{cell:{width}}" for cell, width in zip(row, widths, strict=True)).rstrip())


if __name__ == "__main__":
    sys.exit(main())
