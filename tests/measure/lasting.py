"""Commands in a noise that was there before them and stays after them, as in a shop: how many are taken.

    python -m tests.measure.lasting --write      commands of the speakers that nothing was trained on

The accuracy bench puts noise under each recording alone, so that a voice in the background begins and
ends with the command. Here it goes on: five seconds of noise, then twelve commands with two to four seconds
of noise between them, and so on, through the program's own endpointer, recogniser and decision. What is
heard that overlaps no command is counted apart: nobody spoke then. Each is heard twice, with and without
telling the speaker from talk in the background by level (`handsfree.hear.background.BackgroundTalk`).

With --write the table goes to ``tests/measure/lasting.md``, the figures to ``tests/measure/lasting.json``.
"""

from __future__ import annotations

import argparse
import sys
import zlib
from collections import Counter
from collections.abc import Iterator, Sequence
from contextlib import nullcontext
from pathlib import Path
from typing import Any
from unittest.mock import patch

import numpy as np

from handsfree.ears import Choice, Ear, Recognisers
from handsfree.hear import SAMPLERATE_HZ, Samples, read_sound, utterances
from handsfree.hear.background import BackgroundTalk
from handsfree.planfile import load_plan
from handsfree.recordings import Condition, ManifestRow, judge_row, read_manifest
from handsfree.recordings.noise import TAKES_TALK, spoil
from handsfree.understand import Outcome
from tests.measure.results import keep, shown
from tests.measure.stream import Stream, streams
from tests.support.human import read_aloud

HERE = Path(__file__).parent
ROOT = HERE.parents[1]
NOISES = ("none", "pink", "compressor", "grinder", "babble", "radio", "several")
SNRS_DB = (15.0, 10.0)


def heard_in(ear: Ear, stream: Stream[ManifestRow], samples: Samples) -> Counter[str]:
    """Count what became of the commands, and what was heard where nobody spoke ("stray")."""
    theirs, strays = stream.sorted_out(utterances(samples))
    counts = Counter(f"stray {ear.hear(utterance)[1].outcome}" for utterance in strays)
    for place, mine in zip(stream.placed, theirs, strict=True):
        decisions = [ear.hear(utterance)[1] for utterance in mine]
        accepted = [one for one in decisions if one.outcome is Outcome.ACCEPT]
        counts[judge_row(place.what, accepted or decisions)[0]] += 1
    return counts


def measured(options: argparse.Namespace) -> Iterator[dict[str, Any]]:
    """Hear all the streams in each condition, with and without knowing of talk in the background."""
    plan = load_plan(ROOT / "demo" / "plan.toml")
    ear = Recognisers(plan, Choice.PHRASE).ear(plan.checks[0].name)
    folder = ROOT / "audio_fixtures"
    rows = [row for row in read_manifest(folder) if row.split == options.split]
    chosen = [row for row in rows if row.kind != "chatter"][:: options.every]
    said = [(row, read_sound(folder / row.file)) for row in chosen]
    chatter = [row for row in read_manifest(folder) if row.kind == "chatter"]
    talk = [
        *(read_sound(folder / row.file) for row in chatter),
        *(spoken.samples for spoken in read_aloud()),
    ]
    conditions = [
        Condition(noise, snr_db)
        for noise in options.noise
        for snr_db in ((None,) if noise == "none" else options.snr)
    ]
    for condition in conditions:
        for known in (False, True):
            counts: Counter[str] = Counter()
            minutes = 0.0
            for at, stream in enumerate(streams(said)):
                rng = np.random.default_rng([at, zlib.crc32(str(condition).encode())])
                lent = talk if condition.noise in TAKES_TALK else ()
                samples = spoil(stream.samples, condition.noise, condition.snr_db, rng, lent)
                deaf = patch.object(BackgroundTalk, "covers", lambda *_: False)
                with nullcontext() if known else deaf:
                    counts += heard_in(ear, stream, samples)
                minutes += len(samples) / SAMPLERATE_HZ / 60
            yield {
                "condition": str(condition),
                "by level": known,
                "commands": len(chosen),
                "minutes": minutes,
                **{name: counts[name] for name in ("right", "wrong", "asked", "ignored")},
                **{f"stray {name}": counts[f"stray {name}"] for name in ("accept", "ask", "ignore")},
            }


def table(results: Sequence[dict[str, Any]]) -> str:
    """Write the results: a row a condition, without and with telling the speaker by loudness."""
    lines = [
        "| lasting noise | right / wrong, loudness not used | loudness used | heard where nobody spoke:"
        " acted on / asked about |",
        "| --- | --- | --- | --- |",
    ]

    def share(result: dict[str, Any]) -> str:
        right, wrong = (100 * result[name] / result["commands"] for name in ("right", "wrong"))
        return f"{right:.1f} / {wrong:.1f}"

    for condition in dict.fromkeys(result["condition"] for result in results):
        without, told = sorted(
            (r for r in results if r["condition"] == condition), key=lambda r: bool(r["by level"])
        )
        strays = ", ".join(f"{r['stray accept']} / {r['stray ask']}" for r in (without, told))
        lines.append(f"| {condition} | {share(without)} | {share(told)} | {strays} |")
    return "\n".join(lines)


def _chosen(options: argparse.Namespace) -> str:
    """Return the options that were set beside the usual ones, as they are typed."""
    noises = "" if tuple(options.noise) == NOISES else f" --noise {' '.join(options.noise)}"
    ratios = (
        "" if tuple(options.snr) == SNRS_DB else f" --snr {' '.join(f'{each:g}' for each in options.snr)}"
    )
    return noises + ratios


def main(arguments: Sequence[str] | None = None) -> int:
    """Measure, show, and write with --write."""
    parser = argparse.ArgumentParser(description=(__doc__ or "").splitlines()[0])
    parser.add_argument("--noise", nargs="+", choices=NOISES, default=NOISES)
    parser.add_argument("--snr", nargs="+", type=float, default=SNRS_DB, metavar="DB")
    parser.add_argument("--split", default="held-out")
    parser.add_argument("--every", type=int, default=3, help="one command in so many")
    parser.add_argument("--write", action="store_true")
    options = parser.parse_args(arguments)
    results = shown(measured(options))
    print(table(results))
    if options.write:
        first = results[0]
        note = (
            f"Percent of {first['commands']} spoken commands in {first['minutes']:.0f} minutes of each "
            "noise; the rest is asked about or ignored. The last column has both ways, without loudness "
            "first. "
            f"`python -m tests.measure.lasting --every {options.every}{_chosen(options)} --write`"
        )
        keep("lasting", results, table(results), note)
    return 0


if __name__ == "__main__":
    sys.exit(main())
