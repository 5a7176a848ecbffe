"""Answers to questions: what listening for the replies first gains, and whether it forces anything.

    python -m tests.measure.replies                     clean and in noise; some minutes
    python -m tests.measure.replies --noise none --write

Each recording answers a question that a bench has open, once with the check's whole grammar and once
with the replies first. Questions: whether to finish (answered by procedure words); "this, or that?" with
the value that is said and one that sounds like it; the same with two values of which neither is said, and
one value that isn't, put as a yes or no. Talk, long and short, answers both. Short talk is spoken here by
the engines that are installed; the people are the prompts of `tests/support/human.py`, for judging only.
"""

from __future__ import annotations

import argparse
import json
import os
import shutil
import subprocess
import sys
import tempfile
import zlib
from collections import Counter, defaultdict
from collections.abc import Iterator, Sequence
from dataclasses import asdict, dataclass
from decimal import Decimal
from functools import cache
from pathlib import Path

import numpy as np

from handsfree.bench import Bench
from handsfree.ears import Choice, Recognisers
from handsfree.hear import Hearing, Samples, Utterance, read_sound, utterances
from handsfree.journal import Journal, Kind
from handsfree.length import plain
from handsfree.planfile import load_plan
from handsfree.recordings import Condition, ManifestRow, read_manifest
from handsfree.recordings.score import in_noise
from handsfree.speak import cardinal, number_words
from handsfree.understand import Decision, Outcome, meanings
from handsfree.understand.command import kind_of
from tests.measure.results import keep
from tests.support.human import PROMPTS, padded, prompt, transcripts
from tests.support.human import plain as plain_words

ROOT = Path(__file__).parents[2]
FIXTURES = ROOT / "audio_fixtures"
ANSWERS = ("affirm", "negative", "disregard", "say again", "confirm", "roger", "next", "finish")
# Short talk that isn't for the bench; much of it sounds like an answer.
TALK = (
    *("a son", "a film", "alarm", "a form", "a farmer", "perfume", "fine", "hello", "okay then", "coffee"),
    *("thanks", "sorry", "what was that", "hang on", "come here", "the phone", "lunch", "no thanks"),
    *("nearly", "Simon", "native", "relative", "negligent", "this garden", "dishes", "fit it", "a fern"),
    *("sixty sounds", "infirm", "the firm", "my arm", "adam", "bathroom", "morning", "give me a hand"),
    *("got it", "good", "yeah well", "nope", "not now", "who's next", "next door", "finish your tea"),
    *("finished with it", "say when", "I say", "see you again", "at last", "a finger", "his turn"),
)
NOTE = (
    "Right: it came to just that; for talk, to nothing. What is neither is asked about or ignored. A value "
    'answers "this, or that?" and "this? Yes or no", once as a candidate and once as another value '
    "that sounds like one; a word answers whether to finish, and talk answers both. Short talk was chosen to "
    'sound like an answer: "a fern" is heard as affirm.'
)
TWO = ("fifteen", "fifty")
OF_THE_GRAMMAR = {
    *("a", "again", "confirm", "done", "finish", "first", "for", "fourth", "go", "goes", "half", "hundred"),
    *("next", "no", "oh", "point", "quarter", "say", "second", "third", "to", "too", "top", "yes"),
    *(word for number in range(100) for word in cardinal(number).split()),
}
ENGINES = {
    "flite-slt": ["flite", "-voice", "slt", "-t", "{}", "-o"],
    "flite-rms": ["flite", "-voice", "rms", "-t", "{}", "-o"],
    "flite-awb": ["flite", "-voice", "awb", "-t", "{}", "-o"],
    "espeak-gb": ["espeak-ng", "-v", "en-gb", "{}", "-w"],
    "espeak-us-f3": ["espeak-ng", "-v", "en-us+f3", "{}", "-w"],
}


@dataclass(frozen=True)
class Case:
    """A recording that answers a question. right: what it must come to; None for nothing at all."""

    group: str
    question: tuple[str, ...]
    right: str | None
    file: str


def sounds_like(value: Decimal) -> list[Decimal]:
    """Return values that are heard as `value`, the nearest first."""
    whole, part = int(value), value % 1
    twins = [whole * 10 - 100] if 13 <= whole <= 19 else []
    twins += [whole // 10 + 10] if 30 <= whole <= 90 and whole % 10 == 0 else []
    twins += [whole + 4] if whole % 10 == 5 else [whole - 4] if whole % 10 == 9 else []
    twins += [whole + 1, max(1, whole - 1), whole + 10]
    return [twin + part for twin in dict.fromkeys(twins) if twin != whole]


def said(value: Decimal) -> str:
    """Say a value in the grammar's words."""
    return number_words(value)


def cases(rows: Sequence[ManifestRow]) -> Iterator[tuple[ManifestRow, Case]]:
    """Return the questions that each recording of the fixtures answers."""
    for row in rows:
        finish: tuple[str, ...] = ()
        if row.kind == "word":
            word = row.text.replace(",", "")
            if not word.startswith("cylinder"):
                yield row, Case("a procedure word", finish, word, row.file)
        elif row.kind == "bare" and not row.feel and not row.text.startswith("correction"):
            value = row.value.value
            first, second = sounds_like(value)[:2]
            right = plain(value)
            yield row, Case("a value that was asked about", (said(value), said(first)), right, row.file)
            yield row, Case("a value that was asked about", (said(value),), right, row.file)
            yield row, Case("another value", (said(first), said(second)), right, row.file)
            yield row, Case("another value", (said(first),), right, row.file)
        elif row.kind == "chatter":
            yield row, Case("talk", finish, None, row.file)
            yield row, Case("talk", TWO, None, row.file)


class Room:
    """A bench with a question open, again and again."""

    def __init__(self) -> None:
        self.plan = load_plan(ROOT / "demo" / "plan.toml")
        self.ears = Recognisers(self.plan, Choice.PHRASE)
        self.ear = self.ears.ear(self.plan.checks[0].name)
        self.took_ms: dict[tuple[str, bool], list[float]] = defaultdict(list)

    def answered(
        self, case: Case, cuts: Sequence[Utterance], whole: Sequence[Hearing] = ()
    ) -> tuple[str, bool]:
        """Put the question, hear a recording cut into utterances, and tell what came of it.

        whole: what the whole grammar heard; without it the replies are listened for first.
        """
        with Journal.in_memory() as journal:
            bench = Bench(self.plan, journal, self.ears, cautions=False)
            bench.open()
            self._ask(bench, case.question)
            got, settled = "nothing", False
            for number, utterance in enumerate(cuts):
                hearing = whole[number] if whole else bench.recognise(utterance)
                if not whole:
                    self.took_ms["first", hearing.asked is not None].append(hearing.decode_ms)
                decision = bench.weigh(hearing)
                exchange = bench.heard(hearing, decision)
                if decision.outcome is Outcome.ACCEPT:
                    values = [e.draft.value for e in exchange.events if e.draft.value is not None]
                    got = plain(values[0].value) if values else kind_of(exchange.commands[0])
                    if any(event.kind is Kind.ASKED for event in exchange.events) and got == "reading":
                        got = "asked"  # it can hardly be true, so it is asked about
                    settled = hearing.asked is not None
                elif decision.outcome is Outcome.ASK and got == "nothing":
                    got = "asked"
            return got, settled

    def heard_whole(self, cuts: Sequence[Utterance]) -> list[Hearing]:
        """Return the result of the check's whole grammar for a recording; the question doesn't matter."""
        found = [self.ear.recogniser.hear(utterance) for utterance in cuts]
        self.took_ms["whole", False] += [hearing.decode_ms for hearing in found]
        return found

    def _ask(self, bench: Bench, question: Sequence[str]) -> None:
        ear, check = self.ear, self.plan.checks[0]
        context = ear.listening.at(bench.session.position, check)

        def meant(text: str) -> Decision:
            return Decision(Outcome.ASK, meanings(text.split(), ear.listening.automaton, context))

        if not question:
            finish = meant("finish").meanings
            bench.heard(Hearing(("finish",), 0, 1, "told"), Decision(Outcome.ACCEPT, finish))
            return
        both = tuple(meaning for text in question for meaning in meant(text).meanings)
        bench.heard(Hearing((), 0, 1, "told"), Decision(Outcome.ASK, both))
        assert bench.session.asked is not None


@cache
def spoken(engine: str, text: str) -> Samples | None:
    """Say a text with an engine of this machine; None where it isn't there."""
    command = ENGINES[engine]
    if shutil.which(command[0]) is None:
        return None
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "said.wav"
        filled = [part.format(text) for part in command]
        subprocess.run([*filled, str(path)], check=True, capture_output=True)
        samples = read_sound(path)
    hush = np.zeros(5_000, np.int16)
    return np.concatenate([hush, samples, hush])


def spoken_here() -> Iterator[tuple[list[Case], Samples]]:
    """Answers and short talk from the engines of this machine, and from people."""
    for engine in ENGINES:
        for text in (*ANSWERS, *TALK):
            samples = spoken(engine, text)
            name = f"{engine}/{text}"
            if samples is None:
                continue
            if text in ANSWERS:
                yield [Case("a procedure word", (), text, name)], samples
            else:
                yield _both("short talk", name), samples
    for name, text in sorted(transcripts().items()):
        words = plain_words(text).split()
        alone = name.startswith(("digits/", "letters/", "phonetic/", "silence/"))
        short = 0 < len(words) <= 4 and not alone and not OF_THE_GRAMMAR & set(words)
        if short and (PROMPTS / f"{name}.g722").exists():
            yield _both("people's short talk", name), padded(prompt(name))


def _both(kind: str, name: str) -> list[Case]:
    return [Case(kind, (), None, name), Case(kind, TWO, None, name)]


def main() -> None:
    """Measure and print."""
    parser = argparse.ArgumentParser(
        description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter
    )
    parser.add_argument("--noise", nargs="+", default=["none", "pink", "babble"])
    parser.add_argument("--snr", type=float, default=10.0)
    parser.add_argument("--split", choices=("calibrate", "held-out"))
    parser.add_argument("--every", type=int, default=1)
    parser.add_argument("--rows", type=Path, help="write one JSON object a recording here")
    parser.add_argument("--write", action="store_true", help="write the table beside this file")
    asked = parser.parse_args()
    room = Room()
    counts: dict[tuple[str, str, bool], Counter[str]] = {}
    log = []

    def take(found: Sequence[Case], samples: Samples, condition: str) -> None:
        cuts = utterances(samples)
        whole = room.heard_whole(cuts)
        for case in found:
            for first in (False, True):
                got, settled = room.answered(case, cuts, () if first else whole)
                verdict = "right" if got == (case.right or "nothing") else got
                if verdict not in {"right", "asked", "nothing"}:
                    verdict = "wrong"
                counted = counts.setdefault((case.group, condition, first), Counter())
                counted[verdict] += 1
                counted["settled"] += settled
                log.append({**asdict(case), "noise": condition, "first": first, "got": got, "by": settled})

    rows = [row for row in read_manifest(FIXTURES) if asked.split in (None, row.split)]
    rows = [row for row in rows if zlib.crc32(row.file.encode()) % asked.every == 0]
    for noise in asked.noise:
        condition = Condition(noise, None if noise == "none" else asked.snr)
        wanted: dict[str, list[Case]] = {}
        for row, case in cases(rows):
            wanted.setdefault(row.file, []).append(case)
        read = cache(lambda row: read_sound(FIXTURES / row.file))
        for row, samples in in_noise([row for row in rows if row.file in wanted], read, condition, 5):
            take(wanted[row.file], samples, str(condition))
        print(f"{condition} done", file=sys.stderr)
    if "none" in asked.noise and not asked.split:
        for found, samples in spoken_here():
            if zlib.crc32(found[0].file.encode()) % asked.every == 0:
                take(found, samples, "none")
    table = "\n".join(_lines(counts, room.took_ms))
    print(table)
    if asked.rows:
        asked.rows.write_text("\n".join(json.dumps(each) for each in log) + "\n", encoding="utf-8")
    if asked.write:
        options = [f"--every {asked.every}"] if asked.every > 1 else []
        options += [f"--noise {' '.join(asked.noise)}"] if asked.noise != parser.get_default("noise") else []
        options += [f"--split {asked.split}"] if asked.split else []
        command = " ".join(["python -m tests.measure.replies", *options, "--write"])
        keep("replies", None, table, f"`{command}`")


def _lines(
    counts: dict[tuple[str, str, bool], Counter[str]], took: dict[tuple[str, bool], list[float]]
) -> Iterator[str]:
    yield "| what is said | noise | whole grammar: right / wrong | replies first: right / wrong | of |"
    yield "| --- | --- | --- | --- | --- |"
    for group, condition in dict.fromkeys((group, condition) for group, condition, _ in counts):
        cells = []
        for first in (False, True):
            found = counts[group, condition, first]
            cells.append(f"{found['right']} / {found['wrong']}")
        found = counts[group, condition, True]
        total = found.total() - found["settled"]
        yield f"| {group} | {condition} | {cells[0]} | {cells[1]} | {total} |"
    yield f"\n{NOTE}"
    names = {
        ("whole", False): "whole grammar",
        ("first", True): "settled by a reply",
        ("first", False): "no reply, then the whole grammar",
    }
    yield ""
    for key, name in names.items():
        p50, p95 = np.percentile(took[key] or [0.0], [50, 95])
        yield f"Decoding, {name}: {p50:.0f} ms p50, {p95:.0f} ms p95."
    yield f"\nLoad average at the end: {os.getloadavg()[0]:.1f} on {os.cpu_count()} cores."


if __name__ == "__main__":
    main()
