"""Many people: number strings and sentences, in synthetic and recorded noise, with several encoders.

    python -m tests.measure.speakers --split choose --encoder packaged shipped FILE...
    python -m tests.measure.speakers --split judge --noise pink grinder machine --pocketsphinx --write

The recordings are openly licensed ones that are not kept with the project: a folder with a
``manifest.csv``, given by --speech or HANDSFREE_SPEECH, ``../shared/speech`` otherwise. Without it nothing
is measured. Which speakers may be heard is the list's say (`handsfree.training.splits`): blends and
thresholds are compared on *choose* (sentences on *spare*, too); *judge* is heard when a version is published.

- numbers: AN4's strings of number words ("fifty one fifty six", "one zero six five"), held to one small
  grammar of number words. Right: the same figures. Accepted: as sure as the program must be to act unasked.
- sentences: free decoding, no grammar; word errors, of each sentence at most as many as it has words.
- words: sentences of people who were recorded without a text, against what the packaged networks write in
  the clean: how far an encoder departs from them.
- commands: the fixtures' *calibrate* speakers, every second recording (the others may be trained on),
  through the demo's grammar and decision.

A recorded noise is one of *choose*: a machine (chainsaw, helicopter) or an appliance (dishwasher, exercise
bike).
"""

from __future__ import annotations

import argparse
import csv
import functools
import json
import multiprocessing
import os
import sys
import zlib
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import jiwer
import numpy as np

from handsfree.hear import (
    PACKAGED_ENCODER,
    SAMPLERATE_HZ,
    PhraseModel,
    PhraseRecogniser,
    Samples,
    Utterance,
    read_sound,
)
from handsfree.hear.phrase import trimmed
from handsfree.hear.phrase_model import ADAPTED
from handsfree.recordings import Condition, to_sound
from handsfree.recordings.noise import TAKES_TALK, mix, spoil
from handsfree.training.free import overheard
from handsfree.training.splits import CHOOSE, JUDGE, NOISES, SPARE, Recorded, recorded
from handsfree.understand import Automaton, Thresholds, cardinal_words
from handsfree.understand.automaton import Builder
from tests.measure.people import counted
from tests.measure.results import keep

ROOT = Path(__file__).parents[2]
SPEECH = Path(os.environ.get("HANDSFREE_SPEECH", ROOT.parent / "shared" / "speech"))
MACHINE, APPLIANCE = "machine", "appliance"
SYNTHETIC = ("pink", "grinder", "compressor", "babble", "impacts")
PARTS = ("numbers", "sentences", "words", "commands")
DIGITS = {word: str(n) for n in range(1, 100) for word in [" ".join(cardinal_words(n))]}
WORDS = (*(word for word in DIGITS if " " not in word), "zero", "oh")
FEWEST_WORDS = 4  # of a sentence
SENTENCES_A_SET = 60

Item = tuple[str, str, str, float | None]  # part, recording, noise, ratio


def no_speech(folder: Path) -> str | None:
    """Return why nothing can be measured; None where it can."""
    if (folder / "manifest.csv").is_file():
        return None
    return f"no recordings of people at {folder}: name their folder with --speech or HANDSFREE_SPEECH"


def number_strings() -> Automaton:
    """Return the grammar of one number word or more."""
    builder = Builder()
    start, end = builder.state(), builder.state()
    for word in WORDS:
        builder.phrase(start, end, [word])
    builder.free(end, start)
    return builder.build(start, end)


def figures(words: Sequence[str]) -> str:
    """Return the figures of number words as they would be keyed: teens and tens join what they are said with.

    >>> figures("fifty one fifty six".split()), figures("one oh six five".split())
    ('5156', '1065')
    """
    out, at = "", 0
    while at < len(words):
        pair = " ".join(words[at : at + 2])
        if pair in DIGITS:
            out, at = out + DIGITS[pair], at + 2
        else:
            out, at = out + DIGITS.get(words[at], "0"), at + 1
    return out


def numbers(speech: Path, split: str) -> list[Recorded]:
    """Return AN4's recordings of number words alone."""
    return [one for one in recorded(speech, split, "an4") if set(one.text.split()) <= set(WORDS)]


def sentences(speech: Path, split: str) -> list[Recorded]:
    """Return recordings of sentences with their text, at most so many of a set, always the same ones."""
    sets = ("librispeech", "common-voice", "vctk-a", "telephone-wuw")
    found: list[Recorded] = []
    splits = (CHOOSE, SPARE) if split == CHOOSE else (split,)
    for name in sets:
        mine = [one for each in splits for one in recorded(speech, each, name)]
        mine = [one for one in mine if len(one.text.split()) >= FEWEST_WORDS and one.seconds < 17]
        found += sorted(mine, key=lambda one: zlib.crc32(one.name.encode()))[:SENTENCES_A_SET]
    return found


def untold(speech: Path, split: str) -> list[Recorded]:
    """Return sentences of many people without a text."""
    return [one for one in recorded(speech, split, "librispeech") if not one.text]


@dataclass(frozen=True)
class Bench:
    """Settings of a measurement, passed to each process."""

    speech: Path
    split: str
    encoders: dict[str, str]


_HELD: list[Bench] = []  # one a process


def _begin(bench: Bench) -> None:
    _HELD[:] = [bench]


@functools.cache
def _model(encoder: str) -> PhraseModel:
    if encoder == "packaged":
        return PhraseModel(encoder=PACKAGED_ENCODER, threads=1)
    return PhraseModel(encoder=ADAPTED if encoder == "shipped" else Path(encoder), threads=1)


@functools.cache
def _listener(encoder: str) -> PhraseRecogniser:
    return PhraseRecogniser(number_strings(), figures, _model(encoder))


@functools.cache
def _recordings(part: str) -> dict[str, Recorded]:
    found = {"numbers": numbers, "sentences": sentences, "words": untold}[part](
        _HELD[0].speech, _HELD[0].split
    )
    return {one.name: one for one in found}


@functools.cache
def _noises(kind: str) -> list[Path]:
    with (_HELD[0].speech / "manifest.csv").open(encoding="utf-8", newline="") as file:
        sources = {row["file"]: row["source"].lower() for row in csv.DictReader(file)}
    found = []
    for one in recorded(_HELD[0].speech, CHOOSE, NOISES):
        source = sources[str(one.path.relative_to(_HELD[0].speech))]
        if kind == MACHINE and ("chainsaw" in source or "helicopter" in source):
            found.append(one.path)
        if kind == APPLIANCE and ("dishwasher" in source or "exercise_bike" in source):
            found.append(one.path)
    return found


@functools.cache
def _sound(path: Path) -> Samples:
    return read_sound(path)


@functools.cache
def _talk() -> list[Samples]:
    return [_sound(one.path) for one in recorded(_HELD[0].speech, CHOOSE, "librispeech")[:30]]


def in_noise(samples: Samples, name: str, noise: str, snr_db: float | None) -> Samples:
    """Put a recording into noise, always the same for the same recording and condition."""
    if snr_db is None:
        return samples
    draw = np.random.default_rng(zlib.crc32(f"{name} {noise} {snr_db:g}".encode()))
    if noise in (MACHINE, APPLIANCE):
        paths = _noises(noise)
        sound = to_sound(_sound(paths[int(draw.integers(len(paths)))]))
        sound = sound / (np.sqrt(np.mean(sound**2)) + 1e-9)
        at = (int(draw.integers(len(sound))) + np.arange(len(samples))) % len(sound)
        return mix(samples, sound[at], snr_db)
    return spoil(samples, noise, snr_db, draw, _talk() if noise in TAKES_TALK else ())


def heard(task: tuple[Item, str]) -> dict[str, Any]:
    """Hear one recording in one noise with one encoder; the result as a row."""
    (part, name, noise, snr_db), encoder = task
    row: dict[str, Any] = {"part": part, "name": name, "noise": noise, "snr_db": snr_db, "encoder": encoder}
    file = _HELD[0].encoders[encoder]
    if part == "commands":
        return row | _command(name, noise, snr_db, file)
    one = _recordings(part)[name]
    samples = in_noise(_sound(one.path), name, noise, snr_db)
    row["speaker"] = one.speaker
    if part == "numbers":
        seconds = len(samples) / SAMPLERATE_HZ
        found = _listener(file).hear(Utterance(samples, 0.0, seconds))
        return row | {
            "said": one.text,
            "heard": " ".join(found.words),
            "right": bool(found.words) and figures(found.words) == figures(one.text.split()),
            "fit": None if found.fit is None else round(float(found.fit), 3),
            "margin": None if found.margin is None else round(float(found.margin), 2),
            "pace": None if found.pace is None else round(found.pace, 3),
            "free": found.free,
        }
    if part == "sentences":
        truth = counted(one.text)
    else:
        truth = counted(overheard(_model("packaged"), trimmed(_sound(one.path))).text)
    written = counted(overheard(_model(file), trimmed(samples)).text)
    done = jiwer.process_words([truth], [written])
    wrong = done.substitutions + done.deletions + done.insertions
    words = done.hits + done.substitutions + done.deletions
    return row | {"wrong": min(wrong, words), "words": words, "set": one.set}


@functools.cache
def _ear(file: str) -> Any:
    from handsfree.ears import Ear, phrase_recogniser
    from handsfree.planfile import load_plan
    from handsfree.understand import listen_for

    plan = load_plan(ROOT / "demo" / "plan.toml")
    listening = listen_for(plan, plan.checks[0])
    return Ear(listening, phrase_recogniser(listening, _model(file)))


@functools.cache
def _fixtures() -> dict[str, Any]:
    from handsfree.recordings import read_manifest

    rows = [row for row in read_manifest(ROOT / "audio_fixtures") if row.split == "calibrate"]
    return {row.file: row for row in rows if row.kind != "chatter" and int(Path(row.file).stem) % 2}


def _command(name: str, noise: str, snr_db: float | None, file: str) -> dict[str, Any]:
    from handsfree.commands.hearing import form_of, hear_one

    from handsfree.recordings import scored_row

    row = _fixtures()[name]
    samples = in_noise(_sound(ROOT / "audio_fixtures" / name), name, noise, snr_db)
    utterance = Utterance(samples, 0.2, len(samples) / SAMPLERATE_HZ - 0.2)
    form = form_of("", *hear_one(_ear(file), utterance))
    scored = scored_row(row, Condition(noise, snr_db), samples, [form])
    return {
        "speaker": row.voice,
        "said": row.text,
        "heard": form.get("heard", ""),
        "result": scored.result,
        "right": scored.first_right,
        **{key: form.get(key) for key in ("fit", "margin", "pace")},
    }


def items(parts: Sequence[str], noises: Sequence[str], snrs_db: Sequence[float]) -> Iterator[Item]:
    """Yield what is to be heard: every recording in the clean and in each noise."""
    conditions = [("none", None), *((noise, snr) for noise in noises for snr in snrs_db)]
    for part in parts:
        names = list(_fixtures()) if part == "commands" else list(_recordings(part))
        for name in names:
            for noise, snr_db in conditions:
                yield part, name, noise, snr_db


def accepted(row: dict[str, Any], thresholds: Thresholds) -> bool:
    """Return whether a number string would have been acted on unasked."""
    return (
        row["fit"] is not None
        and row["margin"] is not None
        and row["fit"] >= thresholds.sure_fit
        and row["margin"] >= thresholds.sure_margin
        and row["pace"] <= thresholds.slowest
    )


def share(count: int, total: int) -> str:
    """Write a share."""
    return f"{count / total:.3f}" if total else "-"


def summary(rows: Sequence[dict[str, Any]], thresholds: Thresholds | None = None) -> list[dict[str, Any]]:
    """Return the counts of each part, condition and encoder."""
    limits = thresholds or Thresholds()
    keys = dict.fromkeys((r["part"], r.get("set", ""), r["noise"], r["snr_db"], r["encoder"]) for r in rows)
    found = []
    for part, name, noise, snr_db, encoder in keys:
        here = [
            r
            for r in rows
            if (r["part"], r.get("set", ""), r["noise"], r["snr_db"], r["encoder"])
            == (part, name, noise, snr_db, encoder)
        ]
        counts: dict[str, Any] = {
            "part": part + (f", {name}" if name else ""),
            "noise": noise,
            "snr_db": snr_db,
            "encoder": encoder,
            "count": len(here),
        }
        if part == "numbers":
            taken = [r for r in here if accepted(r, limits)]
            counts["first"] = sum(r["right"] for r in here)
            counts["right"] = sum(r["right"] for r in taken)
            counts["wrong"] = len(taken) - counts["right"]
        elif part == "commands":
            counts["first"] = sum(r["right"] for r in here)
            counts["right"] = sum(r["result"] == "right" for r in here)
            counts["wrong"] = sum(r["result"] == "wrong" for r in here)
        else:
            counts["errors"] = sum(r["wrong"] for r in here)
            counts["words"] = sum(r["words"] for r in here)
        found.append(counts)
    return found


def table(counts: Sequence[dict[str, Any]]) -> str:
    """Write the counts: a row a part and condition, a column an encoder."""
    encoders = list(dict.fromkeys(c["encoder"] for c in counts))
    lines = [f"| | {' | '.join(encoders)} |", "| --- |" + " --- |" * len(encoders)]
    for part, noise, snr_db in dict.fromkeys((c["part"], c["noise"], c["snr_db"]) for c in counts):
        cells = []
        for encoder in encoders:
            one = next(
                (
                    c
                    for c in counts
                    if (c["part"], c["noise"], c["snr_db"], c["encoder"]) == (part, noise, snr_db, encoder)
                ),
                None,
            )
            if one is None:
                cells.append("-")
            elif "words" in one:
                cells.append(share(one["errors"], one["words"]))
            elif encoder == "pocketsphinx":
                cells.append(share(one["first"], one["count"]))
            else:
                first, right, wrong = (share(one[key], one["count"]) for key in ("first", "right", "wrong"))
                cells.append(f"{first}; {right} / {wrong}")
        one = next(c for c in counts if (c["part"], c["noise"], c["snr_db"]) == (part, noise, snr_db))
        label = (
            f"{part} ({one.get('words') or one['count']}), {Condition(noise, snr_db) if snr_db else 'clean'}"
        )
        lines.append(f"| {label} | {' | '.join(cells)} |")
    return "\n".join(lines)


def sphinx(bench: Bench, wanted: Sequence[Item]) -> Iterator[dict[str, Any]]:
    """Hear the number strings with PocketSphinx, held to the same grammar."""
    from pocketsphinx import Decoder

    decoder = Decoder(lm=None, loglevel="FATAL")
    words = [(0, 1, 1.0, word) for word in WORDS]
    decoder.add_fsg("numbers", decoder.create_fsg("numbers", 0, 1, [*words, (1, 0, 1.0)]))
    decoder.activate_search("numbers")
    for part, name, noise, snr_db in wanted:
        if part == "numbers":
            one = _recordings(part)[name]
            decoder.start_utt()
            decoder.process_raw(in_noise(_sound(one.path), name, noise, snr_db).tobytes(), full_utt=True)
            decoder.end_utt()
            found = decoder.hyp()
            said = found.hypstr.split() if found else []
            yield {
                "part": part,
                "name": name,
                "noise": noise,
                "snr_db": snr_db,
                "encoder": "pocketsphinx",
                "right": bool(said) and figures(said) == figures(one.text.split()),
                "heard": " ".join(said),
                "fit": None,
                "margin": None,
                "pace": None,
            }


def main(arguments: Sequence[str] | None = None) -> int:
    """Measure, show, and write with --write."""
    parser = argparse.ArgumentParser(description=(__doc__ or "").splitlines()[0])
    parser.add_argument("--speech", type=Path, default=SPEECH)
    parser.add_argument("--split", choices=(CHOOSE, JUDGE), default=CHOOSE)
    parser.add_argument("--part", nargs="+", choices=PARTS, default=PARTS)
    parser.add_argument("--noise", nargs="*", default=[*SYNTHETIC, MACHINE, APPLIANCE])
    parser.add_argument("--snr", nargs="+", type=float, default=[10.0], metavar="DB")
    parser.add_argument("--encoder", nargs="+", default=["packaged", "shipped"], metavar="FILE")
    parser.add_argument("--pocketsphinx", action="store_true")
    parser.add_argument("--workers", type=int, default=1)
    parser.add_argument("--rows", type=Path, help="write every result here, one JSON object a line")
    parser.add_argument("--write", action="store_true")
    options = parser.parse_args(arguments)
    reason = no_speech(options.speech)
    if reason:
        print(f"skipped: {reason}")
        return 0
    bench = Bench(options.speech, options.split, {Path(name).stem: name for name in options.encoder})
    _begin(bench)
    parts = [part for part in options.part if not (options.split == JUDGE and part == "commands")]
    wanted = list(items(parts, options.noise, options.snr))
    tasks = [(item, encoder) for item in wanted for encoder in bench.encoders]
    context = multiprocessing.get_context("spawn")
    if options.workers > 1:
        with context.Pool(options.workers, _begin, (bench,)) as pool:
            rows = list(pool.imap_unordered(heard, tasks, chunksize=4))
        order = {(*item, encoder): at for at, (item, encoder) in enumerate(tasks)}
        rows.sort(
            key=lambda row: order[row["part"], row["name"], row["noise"], row["snr_db"], row["encoder"]]
        )
    else:
        rows = [heard(task) for task in tasks]
    if options.pocketsphinx:
        rows += sphinx(bench, wanted)
    if options.rows:
        options.rows.write_text("".join(json.dumps(row) + "\n" for row in rows), "utf-8")
    counts = summary(rows)
    shown = table(counts)
    print(shown)
    if options.write:
        note = "`python -m tests.measure.speakers " + " ".join(arguments or sys.argv[1:]) + "`"
        keep("speakers", counts, shown, note)
    return 0


if __name__ == "__main__":
    sys.exit(main())
