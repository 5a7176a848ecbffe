"""An hour of talk that isn't meant for the bench: how much of it is acted on.

    python -m tests.measure.chatter --write               clean and each noise at 10 dB: an hour or more
    python -m tests.measure.chatter --noise none --every 4

The talk: every prompt of `asterisk-core-sounds-en-g722` that isn't a word on its own (one woman), a
novel being read (`pocketsphinx-testdata`), the chatter of `audio_fixtures/`, and flite's voices saying
the transcripts of those prompts and shop talk full of numbers (below; invented). Each recording goes
through the program's own endpointer, recogniser and decision, with the demo's plan.

With --write the table goes to ``tests/measure/chatter.md``, the figures to ``tests/measure/chatter.json``.
"""

from __future__ import annotations

import argparse
import subprocess
import sys
import tempfile
import zlib
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from functools import partial
from pathlib import Path
from typing import Any

import numpy as np

from handsfree.dialogue import can_be_meant
from handsfree.ears import Choice, Ear, Recognisers
from handsfree.hear import SAMPLERATE_HZ, Samples, read_sound, utterances
from handsfree.planfile import load_plan
from handsfree.recordings import Condition, Recognised, read_manifest
from handsfree.recordings.noise import KINDS, TAKES_TALK, spoil
from handsfree.session import fold
from handsfree.understand import Context, Outcome, Reading
from tests.measure.results import keep, shown
from tests.support.human import all_prompts, read_aloud

HERE = Path(__file__).parent
ROOT = HERE.parents[1]
NOISES = ("none", "pink", "compressor", "grinder", "babble", "impacts")
VOICES = ("slt", "rms", "awb", "kal16")

SHOP_TALK = (
    "he said eighteen but I make it nineteen",
    "that one's been nineteen thousand miles since its last oil change",
    "I'm on bay three until about half past two",
    "the top one's mine and the second one's yours",
    "can you pass me the twenty two millimetre socket",
    "they want four hundred and fifty for the pair of them",
    "number five's been weeping oil since tuesday",
    "we had eight of these in last month and six went back",
    "my brother's got a top box full of them going cheap",
    "give it another quarter turn and see if it bites",
    "the parts came to thirty five quid with the postage",
    "I'll be ten minutes, go ahead without me",
    "don't file that under second hand, it's new stock",
    "she finished second in the ten thousand metres",
    "there's seventeen of us coming on saturday night",
    "read it back to me when you've written it all down",
    "next door want their cylinder bottles back by four",
    "cylinder heads are on the top shelf behind the paint",
    "is the kettle on, it's gone half ten already",
    "stand by the door and shout when the van turns up",
    "I said check the invoice, not check the rings",
    "you've got about a thou of mud on those boots",
    "say that again, I had the compressor going",
    "top man, that's the second time you've saved me",
    "it does nought to sixty in eight and a half",
    "what's left of the biscuits is in the tin",
)


@dataclass(frozen=True, eq=False)
class Talk:
    """One recording of talk: where from, a name, (n,) int16 at 16 kHz."""

    source: str
    name: str
    samples: Samples


def talk() -> Iterator[Talk]:
    """Return all the talk, recordings of people first."""
    for spoken in [*all_prompts(), *read_aloud()]:
        yield Talk("people", spoken.name, spoken.samples)
    for row in read_manifest(ROOT / "audio_fixtures"):
        if row.kind == "chatter":
            yield Talk("fixtures", row.file, read_sound(ROOT / "audio_fixtures" / row.file))
    texts = [*SHOP_TALK, *(spoken.text for spoken in all_prompts())]
    for voice in VOICES:
        chosen = SHOP_TALK if voice == "kal16" else texts
        for text in chosen:
            source = "shop talk" if text in SHOP_TALK else "read by voices"
            yield Talk(source, f"{voice}: {text}", _said(voice, text))


def _said(voice: str, text: str) -> Samples:
    with tempfile.NamedTemporaryFile(suffix=".wav") as file:
        subprocess.run(["flite", "-voice", voice, "-t", text, "-o", file.name], check=True)
        return read_sound(Path(file.name))


def acted_on(ear: Ear, samples: Samples, context: Context | None = None) -> list[Recognised]:
    """Return the utterances of a recording that the program didn't ignore, in a given `context`."""
    silence = np.zeros(SAMPLERATE_HZ // 2, np.int16)
    cut = utterances(np.concatenate([silence, samples, silence]))
    heard = [ear.hear(utterance, context) for utterance in cut]
    return [one for one in heard if one[1].outcome is not Outcome.IGNORE]


def measured(options: argparse.Namespace) -> Iterator[dict[str, Any]]:
    """Hear all the talk in each condition; say at once what was acted on."""
    plan = load_plan(ROOT / "demo" / "plan.toml")
    ear = Recognisers(plan, Choice.PHRASE).ear(plan.checks[0].name)
    session = fold(plan, ())  # at work, and nothing was asked
    context = ear.listening.at(session.position, plan.checks[0], partial(can_be_meant, session))
    recordings = list(talk())[:: options.every]
    others = [recording.samples for recording in recordings if recording.source == "people"][::7]
    for noise in options.noise:
        condition = Condition(noise, None if noise == "none" else options.snr)
        counts: dict[str, dict[str, Any]] = {}
        for recording in recordings:
            samples = recording.samples
            if condition.snr_db is not None:
                seed = zlib.crc32(f"{recording.name} {condition}".encode())
                samples = spoil(
                    samples,
                    noise,
                    condition.snr_db,
                    np.random.default_rng(seed),
                    others if noise in TAKES_TALK else (),
                )
            row = counts.setdefault(
                recording.source,
                {
                    "condition": str(condition),
                    "source": recording.source,
                    "minutes": 0.0,
                    "readings": 0,
                    "other commands": 0,
                    "asked": 0,
                },
            )
            row["minutes"] += len(samples) / SAMPLERATE_HZ / 60
            for hearing, decision in acted_on(ear, samples, context):
                meaning = decision.meaning
                first = meaning.commands[0] if meaning else None
                reading = isinstance(first, Reading) and not first.corrects
                asked = decision.outcome is Outcome.ASK
                kind = "asked" if asked else "readings" if reading else "other commands"
                row[kind] += 1
                heard = " ".join(hearing.words)
                print(f"{condition}: {kind}: {recording.name}: {heard}: {hearing.free}", flush=True)
        yield from counts.values()


def table(results: Sequence[dict[str, Any]]) -> str:
    """Write the results for people: a row a condition, all sources together."""
    lines = [
        "| noise | minutes of talk | readings logged | other commands acted on | questions asked |",
        "| --- | --- | --- | --- | --- |",
    ]
    for condition in dict.fromkeys(result["condition"] for result in results):
        rows = [result for result in results if result["condition"] == condition]
        sums = [sum(row[part] for row in rows) for part in ("readings", "other commands", "asked")]
        minutes = sum(row["minutes"] for row in rows)
        lines.append(f"| {condition} | {minutes:.0f} | {' | '.join(map(str, sums))} |")
    return "\n".join(lines)


def main(arguments: Sequence[str] | None = None) -> int:
    """Measure, show, and write with --write."""
    parser = argparse.ArgumentParser(description=(__doc__ or "").splitlines()[0])
    parser.add_argument("--noise", nargs="+", choices=("none", *KINDS), default=NOISES)
    parser.add_argument("--snr", type=float, default=10.0, metavar="DB")
    parser.add_argument("--every", type=int, default=1, help="one recording in so many")
    parser.add_argument("--write", action="store_true")
    options = parser.parse_args(arguments)
    results = shown(measured(options))
    print(table(results))
    if options.write:
        note = (
            "Nobody was filing: each should be 0. Prompts and a novel read by people, and synthetic voices "
            "saying those prompts and shop talk. "
            f"`python -m tests.measure.chatter --every {options.every} --write`"
        )
        keep("chatter", results, table(results), note)
    return 0


if __name__ == "__main__":
    sys.exit(main())
