"""Word error of free decoding on recordings of people: the shipped encoder beside the packaged one.

    python -m tests.bench.people --write       about twenty minutes on two cores
    python -m tests.bench.people --snr 10 --noise pink grinder --encoder FILE

Two sets that no training has seen: twelve recordings of `pocketsphinx-testdata` (several people,
101 words) and sentences of `asterisk-core-sounds-en-g722` (one woman). The noises are synthetic.
Free decoding means that the grammar plays no part: what is measured is the encoder, by words that
have nothing to do with a bench. Numerals are written as words by num2words; jiwer counts the errors.

With --write the table goes to ``tests/bench/people.md``, its figures to ``tests/bench/people.json``.
"""

from __future__ import annotations

import argparse
import json
import re
import sys
import zlib
from collections.abc import Iterator, Sequence
from pathlib import Path
from typing import Any

import jiwer
import num2words
import numpy as np

from handsfree.hear.heard import SAMPLERATE_HZ, Samples
from handsfree.hear.noise import TAKES_TALK, spoil
from handsfree.hear.phrase import trimmed
from handsfree.hear.phrase_model import PhraseModel
from handsfree.hear.tokens import END
from handsfree.score import Condition
from tests.human import Spoken, mixed_set, plain, sentences

HERE = Path(__file__).parent
NOISES = ("pink", "compressor", "grinder", "babble", "impacts")
SNRS_DB = (15.0, 10.0, 5.0)
SENTENCES = 52
_TOKENS_A_SECOND = 7
_SPARE_TOKENS = 8


def people(step_from: int = 0) -> dict[str, list[Spoken]]:
    """Give the two sets; the sentences are every tenth or so of them all, from `step_from` on."""
    said = sentences()
    step = len(said) // SENTENCES
    return {"several people": mixed_set(), "one woman": said[step_from::step][:SENTENCES]}


def conditions(noises: Sequence[str], snrs_db: Sequence[float]) -> list[Condition]:
    """Give clean and each noise at each ratio."""
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
    samples = trimmed(samples)
    hidden = model.encode(samples)
    logp, memory = model.begin(hidden, 1)
    tokens: list[int] = []
    for _ in range(len(samples) * _TOKENS_A_SECOND // SAMPLERATE_HZ + _SPARE_TOKENS):
        token = int(logp.argmax())
        if token == END:
            break
        tokens.append(token)
        rows, memory = model.step(hidden, memory, [0], [token])
        logp = rows[0]
    return model.vocabulary.text(tuple(tokens))


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


def measured(options: argparse.Namespace) -> Iterator[dict[str, Any]]:
    """Measure each set in each condition with each encoder."""
    sets = people(options.step_from)
    talk = [spoken.samples for spoken in sentences()[3:400:10]]
    models = {
        "packaged" if str(path) == "packaged" else "shipped" if path is None else path.stem: PhraseModel(
            encoder=path
        )
        for path in (Path("packaged"), *(options.encoder or [None]))
    }
    for condition in conditions(options.noise, options.snr):
        for name, said in sets.items():
            for encoder, model in models.items():
                wrong, words = word_error(model, said, condition, talk)
                yield {
                    "set": name,
                    "noise": condition.noise,
                    "snr_db": condition.snr_db,
                    "encoder": encoder,
                    "wrong": wrong,
                    "words": words,
                }


def table(results: Sequence[dict[str, Any]]) -> str:
    """Write the results for people: a row a condition, a column a set, packaged / the other."""
    sets = list(dict.fromkeys(result["set"] for result in results))
    encoders = list(dict.fromkeys(result["encoder"] for result in results))
    words = {name: next(r["words"] for r in results if r["set"] == name) for name in sets}

    def share(condition: tuple[str, float | None] | None, name: str, encoder: str) -> str:
        chosen = [
            r
            for r in results
            if r["set"] == name
            and r["encoder"] == encoder
            and (r["snr_db"] is not None if condition is None else (r["noise"], r["snr_db"]) == condition)
        ]
        return f"{sum(r['wrong'] for r in chosen) / sum(r['words'] for r in chosen):.3f}"

    heads = " | ".join(f"{name}, {words[name]} words" for name in sets)
    lines = [f"| word error, {' / '.join(encoders)} | {heads} |", "| --- |" + " --- |" * len(sets)]
    rows: list[tuple[str, tuple[str, float | None] | None]] = [
        (str(Condition(*key)) if key[1] else "clean", key)
        for key in dict.fromkeys((r["noise"], r["snr_db"]) for r in results)
    ]
    for label, key in [*rows, ("all the noises together", None)]:
        cells = [" / ".join(share(key, name, encoder) for encoder in encoders) for name in sets]
        lines.append(f"| {label} | {' | '.join(cells)} |")
    return "\n".join(lines)


def main(arguments: Sequence[str] | None = None) -> int:
    """Measure, show, and write with --write."""
    parser = argparse.ArgumentParser(description=(__doc__ or "").splitlines()[0])
    parser.add_argument("--noise", nargs="+", choices=NOISES, default=NOISES)
    parser.add_argument("--snr", nargs="+", type=float, default=SNRS_DB, metavar="DB")
    parser.add_argument("--encoder", nargs="+", type=Path, help="instead of the shipped one")
    parser.add_argument("--step-from", type=int, default=0, help="other sentences of the same woman")
    parser.add_argument("--write", action="store_true")
    options = parser.parse_args(arguments)
    results = []
    for result in measured(options):
        results.append(result)
        print(json.dumps(result), flush=True)
    print(table(results))
    if options.write:
        (HERE / "people.json").write_text(json.dumps(results, indent=1) + "\n", "utf-8")
        note = "Free decoding, without the grammar. `python -m tests.bench.people --write`"
        (HERE / "people.md").write_text(f"{table(results)}\n\n{note}\n", "utf-8")
    return 0


if __name__ == "__main__":
    sys.exit(main())
