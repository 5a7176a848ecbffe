"""Accuracy of every recogniser on the same recordings in the same noises: one table in one run.

    python -m tests.measure.accuracy                                   everything; hours on two cores
    python -m tests.measure.accuracy --every 6 --noise none pink grinder --snr 15 10 --write

Writes ``tests/measure/accuracy.json`` and ``tests/measure/accuracy.md`` with --write; the README quotes the
latter. The noises are synthetic, and so are the voices: what this can't show is a real shop.
"""

from __future__ import annotations

import argparse
import os
import platform
import sys
import time
import zlib
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from typing import Any

from handsfree.errors import ModelError
from handsfree.hear import Samples, read_sound
from handsfree.plan import Plan
from handsfree.planfile import load_plan
from handsfree.recordings import Condition, ManifestRow, Recognised, Scored, read_manifest, report, scored_row
from handsfree.recordings.score import in_noise, tally
from tests.measure import listeners
from tests.measure.listeners import Listener
from tests.measure.results import keep

ROOT = Path(__file__).parents[2]
NOISES = ("none", "pink", "compressor", "grinder", "babble", "impacts", "room")
SNRS_DB = (20.0, 15.0, 10.0, 5.0)
RECOGNISERS = ("embedded", "dictation", "pocketsphinx", "vosk")


@dataclass(frozen=True)
class Asked:
    """Options of the command line."""

    folder: Path
    plan: Path
    noises: Sequence[str]
    snrs_db: Sequence[float]
    recognisers: Sequence[str]
    every: int
    split: str | None
    voices: str
    seed: int


def conditions(asked: Asked) -> list[Condition]:
    """Return the noises at the ratios asked for, quiet first."""
    return [
        Condition(noise, snr_db)
        for noise in asked.noises
        for snr_db in ([None] if noise == "none" else asked.snrs_db)
    ]


def chosen(rows: Sequence[ManifestRow], asked: Asked) -> list[ManifestRow]:
    """Return about one row in n of the voices and the split asked for, always the same ones."""
    kept = [row for row in rows if asked.split in (None, row.split) and asked.voices in row.voice]
    return [row for row in kept if zlib.crc32(row.file.encode()) % asked.every == 0]


def made(plan: Plan, names: Sequence[str]) -> dict[str, Listener]:
    """Make the recognisers that can be had; say which can't."""
    check = plan.checks[0].name
    makers: dict[str, Callable[[Plan, str], Listener]] = {
        "embedded": listeners.embedded,
        "pocketsphinx": listeners.pocketsphinx,
        "vosk": listeners.vosk,
    }
    ready: dict[str, Listener] = {}
    for name in names:
        if name in makers:
            try:
                ready[name] = makers[name](plan, check)
            except ModelError as error:
                print(f"{name}: left out, {error}", file=sys.stderr)
    return ready


def heard_by_all(
    ready: dict[str, Listener], names: Sequence[str], plan: Plan, samples: Samples
) -> Iterator[tuple[str, list[Recognised]]]:
    """Return each recogniser's result for one recording, split into utterances once."""
    cuts = listeners.cut(samples)
    for name, listen in ready.items():
        found = listen(cuts)
        yield name, found
        if name == "embedded" and "dictation" in names:
            yield "dictation", listeners.dictation(found, listeners.listening_of(plan))


def run(asked: Asked) -> dict[str, list[Scored]]:
    """Score every recording, in every condition, by every recogniser."""
    plan = load_plan(asked.plan)
    rows = chosen(read_manifest(asked.folder), asked)
    ready = made(plan, asked.recognisers)

    @cache
    def read(row: ManifestRow) -> Samples:
        return read_sound(asked.folder / row.file)

    results: dict[str, list[Scored]] = {}
    for condition in conditions(asked):
        began = time.monotonic()
        for row, samples in in_noise(rows, read, condition, asked.seed):
            for name, found in heard_by_all(ready, asked.recognisers, plan, samples):
                results.setdefault(name, []).append(scored_row(row, condition, samples, found))
        print(f"{condition}: {len(rows)} recordings, {time.monotonic() - began:.0f} s", file=sys.stderr)
    return results


def table(results: dict[str, list[Scored]]) -> str:
    """Write the results as a Markdown table: right, then wrong, then what was first choice, in percent."""
    names = list(results)
    lines = [
        "| noise | " + " | ".join(f"{name} right / wrong (first choice)" for name in names) + " |",
        "| --- |" + " --- |" * len(names),
    ]
    order = list(dict.fromkeys(str(one.condition) for one in results[names[0]]))
    for condition in order:
        cells = []
        for name in names:
            here = [one for one in results[name] if str(one.condition) == condition]
            counts = tally(one for one in here if one.row.kind != "chatter")
            cells.append(
                f"{percent(counts.right, counts.total)} / {percent(counts.wrong, counts.total)}"
                f" ({percent(counts.first_right, counts.total)})"
            )
        lines.append(f"| {condition} | " + " | ".join(cells) + " |")
    cells = []
    for name in names:
        talk = tally(one for one in results[name] if one.row.kind == "chatter")
        cells.append(f"{talk.wrong} of {talk.total} acted on")
    lines.append("| chatter, all noises | " + " | ".join(cells) + " |")
    return "\n".join(lines)


def caption(results: dict[str, list[Scored]]) -> str:
    """Say in a line what the table was made from."""
    first = results[next(iter(results))]
    commands = {one.row.file for one in first if one.row.kind != "chatter"}
    voices = {one.row.voice for one in first}
    return (
        f"Percent of {len(commands)} spoken commands in {len(voices)} synthetic voices, the same in "
        "every row; right and wrong count what was acted on, the rest is asked about or ignored; "
        f"first choice is before any decision. `python -m tests.measure.accuracy {' '.join(sys.argv[1:])}`"
    )


def percent(count: int, total: int) -> str:
    """Write a share in percent, or a dash where nothing was counted."""
    return f"{100 * count / total:.1f}" if total else "-"


def form(asked: Asked, results: dict[str, list[Scored]]) -> dict[str, Any]:
    """Return all results JSON-ready, with what they were made from."""
    return {
        "made_with": {
            "command": "python -m tests.measure.accuracy " + " ".join(sys.argv[1:]),
            "recordings": len({one.row.file for one in results[next(iter(results))]}),
            "voices": sorted({one.row.voice for one in results[next(iter(results))]}),
            "seed": asked.seed,
            "python": platform.python_version(),
            "machine": platform.machine(),
            "cores": os.cpu_count(),
        },
        "recognisers": {name: report(scored) for name, scored in results.items()},
        "not_right": {
            name: [
                {
                    "file": one.row.file,
                    "noise": str(one.condition),
                    "text": one.row.text,
                    "result": one.result,
                }
                | {
                    "heard": [
                        f"{decision.outcome}: {' '.join(hearing.words)}" for hearing, decision in one.heard
                    ]
                }
                for one in scored
                if (one.result == "wrong") or (one.result != "right" and one.condition.noise == "none")
                if one.row.kind != "chatter" or one.result == "wrong"
            ]
            for name, scored in results.items()
        },
    }


def parse(arguments: Sequence[str] | None = None) -> tuple[Asked, bool]:
    """Read the command line."""
    parser = argparse.ArgumentParser(
        description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter
    )
    parser.add_argument("--folder", type=Path, default=ROOT / "audio_fixtures", help="has a manifest.csv")
    parser.add_argument("--plan", type=Path, default=ROOT / "demo" / "plan.toml")
    parser.add_argument("--noise", nargs="+", default=NOISES, metavar="KIND")
    parser.add_argument("--snr", nargs="+", type=float, default=SNRS_DB, metavar="DB")
    parser.add_argument("--recogniser", nargs="+", default=RECOGNISERS, choices=RECOGNISERS)
    parser.add_argument("--every", type=int, default=1, help="take about one recording in so many")
    parser.add_argument("--split", choices=("calibrate", "held-out"))
    parser.add_argument("--voices", default="", metavar="TEXT", help="only voices whose name holds TEXT")
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--write", action="store_true", help="keep the results beside this file")
    given = parser.parse_args(arguments)
    asked = Asked(
        given.folder,
        given.plan,
        given.noise,
        given.snr,
        given.recogniser,
        given.every,
        given.split,
        given.voices,
        given.seed,
    )
    return asked, given.write


def main() -> None:
    """Run the bench and print its table."""
    asked, write = parse()
    results = run(asked)
    shown = f"{table(results)}\n\n{caption(results)}"
    print(shown)
    if write:
        keep("accuracy", form(asked, results), shown)


if __name__ == "__main__":
    main()
