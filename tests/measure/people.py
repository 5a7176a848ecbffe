"""Recordings of people: the shipped encoder beside the packaged one.

    python -m tests.measure.people --write       an hour or so on one core
    python -m tests.measure.people --snr 10 --noise pink grinder --encoder FILE

Two sets that no training has seen: twelve recordings of `pocketsphinx-testdata` (several people,
101 words) and sentences of `asterisk-core-sounds-en-g722` (one woman). The noises are synthetic.
Free decoding means that the grammar plays no part: what is measured is the encoder, by words that
have nothing to do with a bench. Numerals are written as words by num2words; jiwer counts the errors.

The numbers 1 to 99 of the same woman (single words, and joined of two recordings) are also heard as the
bench hears them, one after another in noise that stays, cut out by the program's own endpointer, with all of
the demo's grammar to choose from: how many are logged right, and wrong.

With --write the tables go to ``tests/measure/people.md``, their figures to ``tests/measure/people.json``.
"""

from __future__ import annotations

import argparse
import functools
import re
import sys
import zlib
from collections.abc import Iterator, Sequence
from pathlib import Path
from typing import Any

import jiwer
import num2words
import numpy as np

from handsfree.ears import Choice, Ear, Recognisers, evidence
from handsfree.hear import PACKAGED_ENCODER, PhraseModel, Samples, Utterance, utterances
from handsfree.hear.phrase import trimmed
from handsfree.planfile import load_plan
from handsfree.recordings import Condition
from handsfree.recordings.noise import TAKES_TALK, spoil
from handsfree.training.free import overheard
from handsfree.understand import Outcome, command_json, decide
from tests.measure.results import keep, shown
from tests.measure.stream import streams
from tests.support.human import Spoken, joined_numbers, mixed_set, number_words, plain, sentences

HERE = Path(__file__).parent
DEMO_PLAN = HERE.parents[1] / "demo" / "plan.toml"
NOISES = ("pink", "compressor", "grinder", "babble", "impacts")
SNRS_DB = (15.0, 10.0, 5.0)
SENTENCES = 52
NUMBERS = "numbers of one woman"


def people(step_from: int = 0) -> dict[str, list[Spoken]]:
    """Return the two sets; the sentences are every tenth or so of them all, from `step_from` on."""
    said = sentences()
    step = len(said) // SENTENCES
    return {"several people": mixed_set(), "one woman": said[step_from::step][:SENTENCES]}


def conditions(noises: Sequence[str], snrs_db: Sequence[float]) -> list[Condition]:
    """Return clean and each noise at each ratio."""
    return [Condition(), *(Condition(noise, snr_db) for noise in noises for snr_db in snrs_db)]


def spoiled(spoken: Spoken, condition: Condition, talk: Sequence[Samples]) -> Samples:
    """Put a recording in its noise, always the same for the same recording and condition."""
    if condition.snr_db is None:
        return spoken.samples
    seed = zlib.crc32(f"{spoken.name} {condition}".encode())
    return spoil(
        spoken.samples,
        condition.noise,
        condition.snr_db,
        np.random.default_rng(seed),
        talk if condition.noise in TAKES_TALK else (),
    )


def written(model: PhraseModel, samples: Samples) -> str:
    """Decode freely, the likeliest token each time: (n,) int16 at 16 kHz."""
    return overheard(model, trimmed(samples)).text


def counted(text: str) -> str:
    """Write a text as its words are counted: numerals in words, no marks.

    >>> counted("Press 22, please.")
    'press twenty two please'
    """
    in_words = re.sub(r"\d+", lambda found: f" {num2words.num2words(int(found[0]))} ", text)
    return " ".join(word for word in plain(in_words).split() if word != "and")


def word_error(
    model: PhraseModel, said: Sequence[Spoken], condition: Condition, talk: Sequence[Samples]
) -> tuple[int, int]:
    """Count the wrong, missing and added words, and the words that were said."""
    truth = [counted(spoken.text) for spoken in said]
    heard = [counted(written(model, spoiled(spoken, condition, talk))) for spoken in said]
    done = jiwer.process_words(truth, heard)
    return (
        done.substitutions + done.deletions + done.insertions,
        done.hits + done.substitutions + done.deletions,
    )


def numbers_logged(
    encoder: Path | None, condition: Condition, talk: Sequence[Samples]
) -> tuple[int, int, int]:
    """Count the numbers that were accepted right and wrong, and how many there are.

    They are said one after another in noise that stays, and cut out by the program's own endpointer.
    """
    ear = _ear(encoder)
    right = wrong = 0
    said = [(number, spoken.samples) for number, spoken in [*number_words(), *joined_numbers()]]
    for at, stream in enumerate(streams(said)):
        whole = Spoken(f"numbers {at}", "", stream.samples)
        theirs, _ = stream.sorted_out(utterances(spoiled(whole, condition, talk)))
        for place, mine in zip(stream.placed, theirs, strict=True):
            logged = [value for utterance in mine for value in _accepted(ear, utterance)]
            right += logged == [str(place.what)]
            wrong += bool(logged) and logged != [str(place.what)]
    return right, wrong, len(said)


def _accepted(ear: Ear, utterance: Utterance) -> list[str]:
    """Return the values that would be logged; a command that is none counts as an odd one."""
    decision = decide(
        evidence(ear.recogniser.hear(utterance)), ear.listening.automaton, ear.listening.context
    )
    if decision.outcome is not Outcome.ACCEPT or not decision.meaning:
        return []
    forms = map(command_json, decision.meaning.commands)
    return [str(form.get("value")) if not form.get("cylinder") else "elsewhere" for form in forms]


@functools.cache
def _ear(encoder: Path | None) -> Ear:
    plan = load_plan(DEMO_PLAN)
    return Recognisers(plan, Choice.PHRASE, encoder=encoder).ear(plan.checks[0].name)


def measured(options: argparse.Namespace) -> Iterator[dict[str, Any]]:
    """Measure each set in each condition with each encoder."""
    sets = people(options.step_from)
    talk = [spoken.samples for spoken in sentences()[3:400:10]]
    paths: dict[str, Path | None] = {
        "packaged": PACKAGED_ENCODER,
        **({path.stem: path for path in options.encoder} if options.encoder else {"shipped": None}),
    }
    models = {name: PhraseModel(encoder=path) for name, path in paths.items()}
    for condition in conditions(options.noise, options.snr):
        about = {"noise": condition.noise, "snr_db": condition.snr_db}
        for name, said in sets.items():
            for encoder, model in models.items():
                wrong, words = word_error(model, said, condition, talk)
                yield {"set": name, **about, "encoder": encoder, "wrong": wrong, "words": words}
        for encoder, path in paths.items():
            right, wrong, count = numbers_logged(path, condition, talk)
            counts = {"right": right, "wrong": wrong, "count": count}
            yield {"set": NUMBERS, **about, "encoder": encoder, **counts}


def table(results: Sequence[dict[str, Any]]) -> str:
    """Write the results for people: a row a condition, a column a set, packaged / the other."""
    sets = list(dict.fromkeys(result["set"] for result in results))
    encoders = list(dict.fromkeys(result["encoder"] for result in results))

    def cell(key: tuple[str, float | None] | None, name: str, encoder: str) -> str:
        chosen = [
            r
            for r in results
            if (r["set"], r["encoder"]) == (name, encoder)
            and (r["snr_db"] is not None if key is None else (r["noise"], r["snr_db"]) == key)
        ]
        if name != NUMBERS:
            return f"{sum(r['wrong'] for r in chosen) / sum(r['words'] for r in chosen):.3f}"
        count = sum(r["count"] for r in chosen)
        right, wrong = (100 * sum(r[part] for r in chosen) / count for part in ("right", "wrong"))
        return f"{right:.1f} ({wrong:.1f})"

    def head(name: str) -> str:
        first = next(r for r in results if r["set"] == name)
        if name == NUMBERS:
            return f"{first['count']} {name}: % logged right (wrong)"
        return f"word error, {name}, {first['words']} words"

    keys = list(dict.fromkeys((r["noise"], r["snr_db"]) for r in results))
    rows: list[tuple[str, tuple[str, float | None] | None]] = [
        *((str(Condition(*key)) if key[1] else "clean", key) for key in keys),
        ("all the noises together", None),
    ]
    lines = [
        f"| {' / '.join(encoders)} | {' | '.join(map(head, sets))} |",
        "| --- |" + " --- |" * len(sets),
    ]
    for label, key in rows:
        cells = [" / ".join(cell(key, name, encoder) for encoder in encoders) for name in sets]
        lines.append(f"| {label} | {' | '.join(cells)} |")
    return "\n".join(lines)


def _command(options: argparse.Namespace) -> str:
    """Return the command line that measured this."""
    parts = ["python -m tests.measure.people"]
    if tuple(options.noise) != NOISES:
        parts += ["--noise", *options.noise]
    if tuple(options.snr) != SNRS_DB:
        parts += ["--snr", *(f"{snr:g}" for snr in options.snr)]
    if options.step_from:
        parts.append(f"--step-from {options.step_from}")
    if options.encoder:
        parts += ["--encoder", *(path.name for path in options.encoder)]
    return " ".join([*parts, "--write"])


def main(arguments: Sequence[str] | None = None) -> int:
    """Measure, show, and write with --write."""
    parser = argparse.ArgumentParser(description=(__doc__ or "").splitlines()[0])
    parser.add_argument("--noise", nargs="+", choices=NOISES, default=NOISES)
    parser.add_argument("--snr", nargs="+", type=float, default=SNRS_DB, metavar="DB")
    parser.add_argument("--encoder", nargs="+", type=Path, help="instead of the shipped one")
    parser.add_argument("--step-from", type=int, default=0, help="other sentences of the same woman")
    parser.add_argument("--write", action="store_true")
    options = parser.parse_args(arguments)
    results = shown(measured(options))
    print(table(results))
    if options.write:
        note = f"Word error is of free decoding, without the grammar. `{_command(options)}`"
        keep("people", results, table(results), note)
    return 0


if __name__ == "__main__":
    sys.exit(main())
