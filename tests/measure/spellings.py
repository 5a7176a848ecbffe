"""Spellings by the embedded recogniser that are missing from every list, for phrases of the grammar.

    python -m tests.measure.spellings                    clean and two noises; a few minutes
    python -m tests.measure.spellings --noise pink --snr 10 --kind bare

For each phrase of the *calibrate* speakers: the free writings that the grammar's spellings don't read as
any phrase, with how often and by how many voices. What two voices or more share, and what can't be
taken for another word, belongs into `grammars/spellings.toml`. Held-out speakers are never looked at.
"""

from __future__ import annotations

import argparse
import sys
from collections import defaultdict
from collections.abc import Iterator, Mapping, Sequence
from pathlib import Path

from handsfree.ears import Choice, Recognisers
from handsfree.hear import SAMPLERATE_HZ, Utterance, read_sound
from handsfree.planfile import load_plan
from handsfree.recordings import Condition, ManifestRow, read_manifest
from handsfree.recordings.noise import KINDS
from handsfree.recordings.score import in_noise
from handsfree.understand import Letters, load_spellings

ROOT = Path(__file__).parents[2]
FIXTURES = ROOT / "audio_fixtures"

Writing = tuple[str, str, str]  # phrase, what was written, voice


def writings(rows: Sequence[ManifestRow], conditions: Sequence[Condition]) -> Iterator[Writing]:
    """Hear each row in each condition; return the transcripts that spell no phrase of the grammar."""
    plan = load_plan(ROOT / "demo" / "plan.toml")
    ear = Recognisers(plan, Choice.PHRASE).ear(plan.checks[0].name)
    letters = Letters(ear.listening.automaton, load_spellings())
    for condition in conditions:
        for row, samples in in_noise(rows, lambda row: read_sound(FIXTURES / row.file), condition):
            hearing = ear.recogniser.hear(Utterance(samples, 0.0, len(samples) / SAMPLERATE_HZ))
            if hearing.free and not letters.words(hearing.free.strip()):
                yield row.text, hearing.free.strip(), row.voice


def gathered(found: Iterator[Writing]) -> Mapping[str, Mapping[str, list[str]]]:
    """Gather writings by phrase: for each, the voices that it came from."""
    table: dict[str, dict[str, list[str]]] = defaultdict(lambda: defaultdict(list))
    for phrase, written, voice in found:
        table[phrase][written].append(voice)
    return table


def main(arguments: Sequence[str] | None = None) -> int:
    """List the writings, those of the most voices first."""
    parser = argparse.ArgumentParser(description=(__doc__ or "").splitlines()[0])
    parser.add_argument("--kind", nargs="+", default=["word", "bare"], choices=("word", "bare", "reading"))
    parser.add_argument("--noise", nargs="*", default=["pink", "compressor"], choices=KINDS)
    parser.add_argument("--snr", type=float, default=10.0, metavar="DB")
    options = parser.parse_args(arguments)
    rows = [row for row in read_manifest(FIXTURES) if row.split == "calibrate" and row.kind in options.kind]
    conditions = [Condition(), *(Condition(noise, options.snr) for noise in options.noise)]
    for phrase, forms in sorted(gathered(writings(rows, conditions)).items()):
        print(phrase)
        for written, voices in sorted(forms.items(), key=lambda item: (-len(set(item[1])), item[0])):
            print(f"  {len(voices)} times, {len(set(voices))} voices: {written}")
    return 0


if __name__ == "__main__":
    sys.exit(main())
