"""How well voices are told apart: equal error, and what the program's own limits cost and spare.

    python -m tests.measure.voices --split choose            to choose by
    python -m tests.measure.voices --split judge --write     to judge by

Each person is enrolled with six phrases in the clean; every other phrase of his, and everybody else's, is
compared with their mean (`handsfree.adapt.people`). People: AN4's close microphone and telephone callers of
the split (callers are kept in *choose* alone), in the folder HANDSFREE_SPEECH or ``../shared/speech``.
Synthetic voices: *calibrate* for choose, *held-out* for judge. Another voice is another person of the same
set, 10 dB below, all the time.

With --write the table goes to ``tests/measure/voices.md``, the figures to ``voices.json`` there.
"""

from __future__ import annotations

import argparse
import sys
import zlib
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from handsfree.adapt import ENOUGH
from handsfree.adapt.people import alike, limit_of
from handsfree.hear import SAMPLERATE_HZ, Samples, VoiceModel, read_sound, trimmed
from handsfree.recordings import read_manifest
from handsfree.recordings.noise import babble, mix, pink
from handsfree.training.splits import CHOOSE, JUDGE, recorded
from tests.measure.results import keep, shown
from tests.measure.speakers import ROOT, SPEECH, no_speech

FIXTURES = ROOT / "audio_fixtures"
CONDITIONS = ("clean", "pink 10 dB", "another voice 10 dB below")
SNR_DB = 10.0
MOST = 12  # phrases of a person
LEAST_S = 0.7  # as in the program

Floats = NDArray[np.float32]


@dataclass(frozen=True, eq=False)
class Phrase:
    """One phrase of one person."""

    who: str
    name: str
    samples: Samples

    @property
    def seconds(self) -> float:
        """Duration of the speech."""
        return len(trimmed(self.samples)) / SAMPLERATE_HZ


def phrases(kind: str, split: str) -> list[Phrase]:
    """Return at most twelve phrases of each person of a set: "synthetic", or one of people."""
    if kind == "synthetic":
        wanted = "calibrate" if split == CHOOSE else "held-out"
        rows = [row for row in read_manifest(FIXTURES) if row.split == wanted and row.kind != "chatter"]
        named = [(row.voice, row.file, FIXTURES / row.file) for row in rows]
    else:
        named = [(one.speaker, one.name, one.path) for one in recorded(SPEECH, split, kind)]
    counts: dict[str, int] = {}
    found = []
    for who, name, path in named:
        if counts.get(who, 0) < MOST:
            one = Phrase(who, name, read_sound(path))
            if one.seconds >= LEAST_S:
                counts[who] = counts.get(who, 0) + 1
                found.append(one)
    return [one for one in found if counts[one.who] > ENOUGH]


def spoiled(one: Phrase, condition: str, others: Sequence[Phrase]) -> Samples:
    """Return a phrase in a condition, always the same."""
    rng = np.random.default_rng(zlib.crc32(f"{one.name} {condition}".encode()))
    if condition == CONDITIONS[0]:
        return one.samples
    if condition == CONDITIONS[1]:
        return mix(one.samples, pink(len(one.samples), rng), SNR_DB)
    talk = [other.samples for other in others if other.who != one.who]
    pick = rng.choice(len(talk), 4, replace=False)
    return mix(one.samples, babble(len(one.samples), rng, [talk[each] for each in pick], talkers=1), SNR_DB)


def equal_error(own: Floats, others: Floats) -> float:
    """Return the error at the limit where as many own are lost as others are let in."""
    return min(
        (abs(lost - let_in), (lost + let_in) / 2)
        for limit in np.unique(np.concatenate([own, others]))
        for lost, let_in in [(float((own < limit).mean()), float((others >= limit).mean()))]
    )[1]


def measured(kind: str, split: str) -> Iterator[dict[str, Any]]:
    """Compare all phrases of a set in each condition with everybody's enrolment."""
    network, known = VoiceModel(), phrases(kind, split)
    people = sorted({one.who for one in known})
    enrolled: dict[str, list[Floats]] = {}
    tried: list[Phrase] = []
    for who in people:
        mine = [one for one in known if one.who == who]
        enrolled[who] = [network.voice(trimmed(one.samples)) for one in mine[:ENOUGH]]
        tried += mine[ENOUGH:]
    for condition in CONDITIONS if known else ():
        own, others, lost, caught = [], [], 0, 0
        for one in tried:
            speech = trimmed(spoiled(one, condition, known))
            voice, limit = network.voice(speech), limit_of(speech)
            for who in people:
                score = alike(voice, enrolled[who])
                (own if who == one.who else others).append(score)
                lost += who == one.who and score < limit
                caught += who != one.who and score < limit
        yield {
            "set": kind,
            "people": len(people),
            "condition": condition,
            "own": len(own),
            "others": len(others),
            "equal error": equal_error(np.array(own, np.float32), np.array(others, np.float32)),
            "lost": lost,
            "caught": caught,
        }


def table(results: Sequence[dict[str, Any]]) -> str:
    """Write the results: a row a set and condition."""
    lines = [
        "| voices | condition | equal error | own asked about | another's asked about |",
        "| --- | --- | --- | --- | --- |",
    ]
    for one in results:
        lost, caught = 100 * one["lost"] / one["own"], 100 * one["caught"] / one["others"]
        lines.append(
            f"| {one['set']}, {one['people']} | {one['condition']} | {100 * one['equal error']:.1f} % | "
            f"{lost:.1f} % of {one['own']} | {caught:.0f} % of {one['others']} |"
        )
    return "\n".join(lines)


def main(arguments: Sequence[str] | None = None) -> int:
    """Measure, show, and write with --write."""
    parser = argparse.ArgumentParser(description=(__doc__ or "").splitlines()[0])
    parser.add_argument("--split", choices=(CHOOSE, JUDGE), default=CHOOSE)
    parser.add_argument("--write", action="store_true")
    options = parser.parse_args(arguments)
    if why := no_speech(SPEECH):
        print(why)
        return 2
    kinds = ("an4", "telephone-wuw", "synthetic") if options.split == CHOOSE else ("an4", "synthetic")
    results = shown(one for kind in kinds for one in measured(kind, options.split))
    print(table(results))
    if options.write:
        note = (
            f"Speakers of {options.split}; enrolled in the clean with {ENOUGH} phrases each. "
            f"`python -m tests.measure.voices --split {options.split} --write`"
        )
        keep("voices", results, table(results), note)
    return 0


if __name__ == "__main__":
    sys.exit(main())
