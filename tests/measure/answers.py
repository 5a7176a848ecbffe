"""Length of the answers of a whole job, rendered with the default voice, and duration of the job.

Sixteen rings of the demonstration's plan are read twice each, once short and once good, by key; each answer
is rendered as the bench plays it: tone, breath and words. A reading's own length is that of one fixture
voice's bare readings, and the wait before an answer that of `latency.json`.

    python -m tests.measure.answers [--rate WPM] [--voice FIXTURE_VOICE] [--write]

With --write it leaves answers.json and answers.md beside itself.
"""

from __future__ import annotations

import argparse
import csv
import json
from collections.abc import Sequence
from pathlib import Path
from statistics import median
from typing import Any

import soundfile

from handsfree.bench import Bench
from handsfree.dialogue import greeting
from handsfree.journal import Journal
from handsfree.live.loop import ROOM_TAIL_S
from handsfree.planfile import load_plan
from handsfree.speak import (
    TERSE_WORDS_PER_MINUTE,
    WORDS_PER_MINUTE,
    EngineVoice,
    Reply,
    Verbosity,
    VoiceSettings,
    Wording,
    render_answer,
)
from tests.measure.live import add_results_options, leave

ROOT = Path(__file__).parents[2]
SHORT, GOOD = ("16", "16.5", "17", "15.25"), ("19.25", "19.5", "19", "19.25")
REACTION_S = 0.3  # from the end of an answer until the next reading begins, beyond the room's tail


def job(verbosity: Verbosity) -> tuple[list[Reply], dict[str, Reply]]:
    """Return the answers to 32 readings, and the others that a job has, by name."""
    plan = load_plan(ROOT / "demo/plan.toml")
    say = Wording(verbosity, plan.checks[0].unit)
    others: dict[str, Reply] = {}
    with Journal.in_memory() as journal:
        bench = Bench(plan, journal, wording=say)
        bench.open()
        others["greeting with its cautions"] = greeting(say, bench.session)
        replies = []
        for number in range(16):
            size = (SHORT if number < 8 else [str(float(each) + 1) for each in SHORT])[number % 4]
            fits = (GOOD if number < 8 else [str(float(each) + 1) for each in GOOD])[number % 4]
            replies += [bench.key(size).reply, bench.key(fits).reply]
            if number == 1:
                others["what's left, after two tops"] = _left(bench)
            if number == 9:
                others["what's left, after eight tops and two seconds"] = _left(bench)
        others["what's left, at the end"] = _left(bench)
    return replies, others


def _left(bench: Bench) -> Reply:
    from handsfree.dialogue import respond
    from handsfree.journal import Heard
    from handsfree.understand import Control, Word

    return respond(bench._say, bench.session, Control(Word.WHATS_LEFT), Heard("voice", "")).reply


def reading_lengths(voice: str) -> list[float]:
    """Return how long the bare readings of a fixture voice are, in s."""
    folder = ROOT / "audio_fixtures"
    with (folder / "manifest.csv").open(encoding="utf-8", newline="") as file:
        rows = [row for row in csv.DictReader(file) if row["voice"] == voice]
    kept = [row["file"] for row in rows if row["kind"] == "bare"] or [row["file"] for row in rows]
    return [soundfile.info(str(folder / name)).duration for name in kept]


def measure(rate: int | None, voice_of_readings: str) -> dict[str, Any]:
    """Render and time everything."""
    wait_s = json.loads((Path(__file__).parent / "latency.json").read_text())["p50_ms"] / 1000
    reading_s = median(reading_lengths(voice_of_readings))
    found: dict[str, Any] = {"wait_s": round(wait_s, 2), "reading_s": round(reading_s, 2)}
    for verbosity in Verbosity:
        usual = TERSE_WORDS_PER_MINUTE if verbosity is Verbosity.TERSE else WORDS_PER_MINUTE
        replies, others = job(verbosity)
        with EngineVoice(VoiceSettings(words_per_minute=rate or usual)) as voice:
            lengths = [render_answer(reply, voice).sound.duration_s for reply in replies]
            about = {name: render_answer(reply, voice).sound.duration_s for name, reply in others.items()}
            found[verbosity.value] = {
                "rate": rate or usual,
                "short_s": _spread(lengths[::2], wait_s),
                "good_s": _spread(lengths[1::2], wait_s),
                "all_s": _spread(lengths, wait_s),
                "job_s": round(
                    sum(lengths) + len(lengths) * (reading_s + wait_s + ROOM_TAIL_S + REACTION_S), 1
                ),
                "answers_s": round(sum(lengths), 1),
                "others_s": {name: round(length_s, 2) for name, length_s in about.items()},
                "examples": [reply.aloud for reply in replies[:4]]
                + [reply.aloud for reply in others.values()],
            }
    return found


def _spread(lengths: Sequence[float], wait_s: float) -> dict[str, float]:
    """Median and longest from the end of speech to the end of the answer."""
    return {"median": round(median(lengths) + wait_s, 2), "longest": round(max(lengths) + wait_s, 2)}


def table(result: dict[str, Any]) -> str:
    """Write the result as a Markdown table."""
    names = [each.value for each in Verbosity]
    heads = [f"{each} ({result[each]['rate']})" for each in names]
    rows = [
        ("a short reading, median (longest)", lambda one: _cell(one["short_s"])),
        ("a good reading, median (longest)", lambda one: _cell(one["good_s"])),
        ("32 answers, median (longest)", lambda one: _cell(one["all_s"])),
        ("the job of 16 rings, 32 readings", lambda one: f"{one['job_s']:.0f} s"),
        *[
            (name, lambda one, name=name: f"{one['others_s'][name]:.1f} s")
            for name in result["terse"]["others_s"]
        ],
    ]
    lines = [
        f"| answers (words a minute) | {' | '.join(heads)} |",
        "| --- | --- | --- | --- |",
        *[f"| {name} | {' | '.join(cell(result[each]) for each in names)} |" for name, cell in rows],
        "",
        f"From the end of speech to the end of the answer, with the wait of {result['wait_s']} s that "
        "`latency.md` has; the last rows are the answer alone. The job counts readings of "
        f"{result['reading_s']} s, the room's tail and {REACTION_S} s until the next one. "
        "`python -m tests.measure.answers --write`",
    ]
    return "\n".join(lines) + "\n"


def _cell(spread: dict[str, float]) -> str:
    return f"{spread['median']:.1f} s ({spread['longest']:.1f} s)"


def main() -> None:
    """Measure and print."""
    parser = argparse.ArgumentParser()
    parser.add_argument("--rate", type=int)
    parser.add_argument("--voice", default="kokoro-am_michael")
    add_results_options(parser)
    options = parser.parse_args()
    result = measure(options.rate, options.voice)
    leave("answers", result, table, options, ears=False)
    print(table(result))


if __name__ == "__main__":
    main()
