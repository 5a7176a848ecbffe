"""Control words and numbers in talk that begins with the recording: what the limit on the pace does.

    python -m tests.measure.beside_talk --split calibrate --every 3     to choose by
    python -m tests.measure.beside_talk --write                         to judge by: held-out speakers

Talk around a word lasts longer than the word, so that a limit on the pace (`Thresholds.slowest`) asks about
all of it. The noise begins one to two seconds before the recording and goes on as long after it, so that
there is no time to tell the speaker from the talk by level. Each recording is heard once and decided three
times: with the limit on everything, as the program does it, and without the limit. One voice is a single
talker: with held-out speakers people reading a novel aloud (`pocketsphinx-testdata`), with the others the
fixtures' own chatter, since nothing may be chosen by recordings that are for judging.

With --write the table goes to ``tests/measure/beside_talk.md``, the figures to ``beside_talk.json`` there.
"""

from __future__ import annotations

import argparse
import math
import sys
import zlib
from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from functools import cache
from pathlib import Path
from typing import Any

import numpy as np

from handsfree.ears import Choice, Ear, Recognisers, evidence
from handsfree.hear import SAMPLERATE_HZ, Hearing, Samples, read_sound, utterances
from handsfree.planfile import load_plan
from handsfree.recordings import Condition, ManifestRow, judge_row, read_manifest
from handsfree.recordings.noise import babble, mix, spoil
from handsfree.understand import Thresholds, decide
from tests.measure.results import keep, shown
from tests.support.human import read_aloud

ROOT = Path(__file__).parents[2]
FOLDER = ROOT / "audio_fixtures"
ONE_VOICE = "one voice"
SNR_DB = 10.0
AROUND_S = (1.0, 2.0)
CLIPS_OF_TALK = 12
CONDITIONS = ("none", "pink", "babble", ONE_VOICE)
GROUPS = ("control words", "moves and numbers", "talk")
RULES = {
    "on everything": replace(Thresholds(), far_margin=math.inf),
    "as shipped": Thresholds(),
    "on nothing": replace(Thresholds(), slowest=math.inf),
}


@dataclass(frozen=True, slots=True)
class Case:
    """One recording in one condition, and what was heard of it."""

    row: ManifestRow
    condition: Condition
    heard: tuple[Hearing, ...]

    @property
    def group(self) -> str:
        """Its group, one of `GROUPS`."""
        if self.row.kind == "chatter":
            return "talk"
        alone = self.row.kind == "word" and not self.row.cylinder
        return "control words" if alone else "moves and numbers"


@cache
def read(row: ManifestRow) -> Samples:
    """Return a row's sound."""
    return read_sound(FOLDER / row.file)


@cache
def ear() -> Ear:
    """Return the embedded recogniser, listening for the demo's first check."""
    plan = load_plan(ROOT / "demo" / "plan.toml")
    return Recognisers(plan, Choice.PHRASE).ear(plan.checks[0].name)


def spoiled(row: ManifestRow, condition: Condition, rows: Sequence[ManifestRow]) -> Samples:
    """Return a recording in a noise that begins before it and ends after it; `rows` lend their talk."""
    rng = np.random.default_rng(zlib.crc32(f"{row.file} {condition}".encode()))
    before, after = (np.zeros(int(s * SAMPLERATE_HZ), np.int16) for s in rng.uniform(*AROUND_S, 2))
    samples = np.concatenate([before, read(row), after])
    others = [other for other in rows if other.voice != row.voice]
    if condition.noise != ONE_VOICE:
        talk = [read(others[pick]) for pick in rng.choice(len(others), CLIPS_OF_TALK, replace=False)]
        return spoil(samples, condition.noise, condition.snr_db, rng, talk)
    if row.split == "calibrate":
        talk = [read(other) for other in others if other.kind == "chatter"]
    else:
        talk = [spoken.samples for spoken in read_aloud()]
    return mix(samples, babble(len(samples), rng, talk, talkers=1), SNR_DB)


def heard_in(rows: Sequence[ManifestRow], names: Sequence[str]) -> Iterator[Case]:
    """Hear all recordings in all conditions, each once."""
    for name in names:
        condition = Condition(name, None if name == "none" else SNR_DB)
        for row in rows:
            cut = utterances(spoiled(row, condition, rows))
            yield Case(row, condition, tuple(ear().recogniser.hear(one) for one in cut))


def outcome(case: Case, thresholds: Thresholds) -> str:
    """Decide what was heard: right, wrong, asked or ignored."""
    listening = ear().listening
    decisions = [
        decide(evidence(one), listening.automaton, listening.context, thresholds) for one in case.heard
    ]
    return judge_row(case.row, decisions)[0]


def chosen_rows(split: str, every: int) -> list[ManifestRow]:
    """Return a split's rows: every procedure word and all talk, one in so many of the others."""
    rows = [row for row in read_manifest(FOLDER) if row.split == split]
    numbers = [row for row in rows if row.kind in ("reading", "bare")][::every]
    return [row for row in rows if row.kind not in ("reading", "bare") or row in numbers]


def counted(cases: Sequence[Case]) -> Iterator[dict[str, Any]]:
    """Count the outcomes by group, condition and rule."""
    for group in GROUPS:
        for condition in dict.fromkeys(case.condition for case in cases):
            here = [case for case in cases if (case.group, case.condition) == (group, condition)]
            for rule, thresholds in RULES.items():
                counts = Counter(outcome(case, thresholds) for case in here)
                results = {name: counts[name] for name in ("right", "wrong", "asked", "ignored")}
                yield {
                    "group": group,
                    "condition": str(condition),
                    "rule": rule,
                    "count": len(here),
                    **results,
                }


def table(results: Sequence[dict[str, Any]]) -> str:
    """Write the counts: a row a group and condition, right / wrong for each rule."""
    lines = [
        f"| right / wrong; limit on the pace | {' | '.join(RULES)} |",
        "| --- |" + " --- |" * len(RULES),
    ]
    for group, condition in dict.fromkeys((r["group"], r["condition"]) for r in results):
        here = {r["rule"]: r for r in results if (r["group"], r["condition"]) == (group, condition)}
        count = next(iter(here.values()))["count"]
        if count:
            cells = [f"{here[rule]['right']} / {here[rule]['wrong']}" for rule in RULES]
            if group == "talk":
                cells = [f"{here[rule]['wrong']} acted on" for rule in RULES]
            name = "clean" if condition == "none" else condition
            lines.append(f"| {count} {group}, {name} | {' | '.join(cells)} |")
    return "\n".join(lines)


def main(arguments: Sequence[str] | None = None) -> int:
    """Measure, show, and write with --write."""
    parser = argparse.ArgumentParser(description=(__doc__ or "").splitlines()[0])
    parser.add_argument("--split", choices=("calibrate", "held-out"), default="held-out")
    parser.add_argument("--every", type=int, default=1, help="one reading in so many")
    parser.add_argument("--noise", nargs="+", choices=CONDITIONS, default=CONDITIONS)
    parser.add_argument("--write", action="store_true")
    options = parser.parse_args(arguments)
    results = shown(counted(list(heard_in(chosen_rows(options.split, options.every), options.noise))))
    print(table(results))
    if options.write:
        note = (
            f"Recordings of {options.split} speakers; the rest is asked about or ignored. One voice reads "
            f"aloud {SNR_DB:g} dB below. "
            f"`python -m tests.measure.beside_talk --every {options.every} --write`"
        )
        keep("beside_talk", results, table(results), note)
    return 0


if __name__ == "__main__":
    sys.exit(main())
