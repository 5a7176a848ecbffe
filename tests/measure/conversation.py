"""Natural words, spoken: how often they meet silence, a question, a hint, the right thing or a wrong one.

    python tests/conversation/speak.py DIR piper-joe kokoro-af_bella:6:0 ...      makes the sound
    python -m tests.measure.conversation DIR --voice piper-joe kokoro-af_bella

Each utterance of `tests/conversation/` that DIR has in a voice is heard after its scene's first words, by the
program's own endpointer, recogniser and decision. With --write the table goes to
``tests/measure/conversation.md`` and every outcome to ``tests/measure/conversation.json``; --before FILE
puts the figures of an earlier run, its JSON, beside them.
"""

from __future__ import annotations

import argparse
import json
import sys
from collections import Counter
from collections.abc import Iterator, Sequence
from pathlib import Path
from typing import Any

from handsfree.bench import Bench, Exchange
from handsfree.ears import Choice, Recognisers
from handsfree.hear import Hearing, read_sound
from handsfree.hear import utterances as cut
from handsfree.journal import Journal
from handsfree.planfile import load_plan
from tests.conversation.outcome import NOT_DONE, Grade, Utterance, grade, happened, spelt, utterances
from tests.conversation.speak import file_name
from tests.measure.results import keep

ROOT = Path(__file__).parents[2]


def measured(folder: Path, voices: Sequence[str], every: int, only: str) -> Iterator[dict[str, Any]]:
    """Hear every utterance in every voice that has it; return the results."""
    plan = load_plan(ROOT / "demo" / "plan.toml")
    ears = Recognisers(plan, Choice.PHRASE)
    for voice in voices:
        for one in [one for one in utterances() if only in one.source][::every]:
            path = folder / voice / file_name(one.text)
            if path.is_file():
                yield {"voice": voice, **_heard(Bench(plan, Journal.in_memory(), ears), one, path)}


def _heard(bench: Bench, one: Utterance, path: Path) -> dict[str, Any]:
    bench.open()
    for line in one.before:
        _say(bench, spelt(line))
    before = bench.session
    exchanges: list[Exchange] = [bench.hear(utterance) for utterance in cut(read_sound(path))]
    came = happened(before, exchanges)
    hearings = [exchange.hearing for exchange in exchanges if exchange.hearing is not None]
    return {
        "list": one.source,
        "scene": one.scene,
        "text": one.text,
        "should": " / ".join(one.should),
        "came": came,
        "grade": grade(one.should, came).value,
        "free": " ".join(hearing.free or "" for hearing in hearings),
        "heard": " ".join(" ".join(hearing.words) for hearing in hearings),
        "fit": [round(hearing.fit, 2) for hearing in hearings if hearing.fit is not None],
        "margin": [round(hearing.margin, 1) for hearing in hearings if hearing.margin is not None],
        "decode_ms": round(sum(hearing.decode_ms for hearing in hearings)),
    }


def _say(bench: Bench, words: tuple[str, ...]) -> None:
    hearing = Hearing(words, 0.0, 1.0, "test", fit=-0.02, margin=9.0, free=" ".join(words))
    bench.heard(hearing, bench.weigh(hearing))


def shares(results: Sequence[dict[str, Any]]) -> dict[str, str]:
    """Return the share of each grade in percent: of what is meant for the bench, and of what isn't."""
    meant = [one for one in results if NOT_DONE not in one["should"].split(" / ")]
    counts = Counter(one["grade"] for one in meant)
    found = {name.value: _percent(counts[name.value], len(meant)) for name in Grade}
    talk = [one for one in results if one["should"] == NOT_DONE]
    found["talk answered"] = _percent(sum(one["grade"] != Grade.RIGHT for one in talk), len(talk))
    return found


def _percent(count: int, total: int) -> str:
    return f"{100 * count / total:.1f}" if total else "-"


def table(results: Sequence[dict[str, Any]], before: Sequence[dict[str, Any]]) -> str:
    """Write the shares for people, per list and for all, an earlier run's beside them."""
    names = [*(name.value for name in Grade), "talk answered"]
    lines = ["| utterances | " + " | ".join(names) + " |", "| --- |" + " --- |" * len(names)]
    lists = sorted({one["list"] for one in results})
    for label, chosen in [*((name, [name]) for name in lists), ("all", lists)]:
        for when, run in (("before", before), ("now", results)):
            kept = [one for one in run if one["list"] in chosen]
            if kept:
                found = shares(kept)
                lines.append(f"| {label}, {when} | " + " | ".join(found[name] for name in names) + " |")
    return "\n".join(lines)


def main(arguments: Sequence[str] | None = None) -> int:
    """Measure, show, and write with --write."""
    parser = argparse.ArgumentParser(description=(__doc__ or "").splitlines()[0])
    parser.add_argument("folder", type=Path, metavar="DIR")
    parser.add_argument("--voice", nargs="+", required=True)
    parser.add_argument("--every", type=int, default=1, help="one utterance in so many")
    parser.add_argument("--list", default="", metavar="TEXT", help="only lists whose file name holds TEXT")
    parser.add_argument("--before", type=Path, metavar="FILE")
    parser.add_argument("--write", action="store_true")
    parser.add_argument("--out", type=Path, metavar="FILE", help="keep every outcome in FILE")
    given = parser.parse_args(arguments)
    results = []
    for result in measured(given.folder, given.voice, given.every, given.list):
        results.append(result)
        if result["grade"] != Grade.RIGHT:
            print(json.dumps(result), flush=True)
    before = json.loads(given.before.read_text("utf-8")) if given.before else []
    shown = table(results, before)
    print(shown)
    if given.out:
        given.out.write_text(json.dumps(results, indent=1) + "\n", "utf-8")
    if given.write:
        heard = f"{len(results)} utterances in {len({one['voice'] for one in results})} synthetic voices"
        note = (
            f"Percent of what is meant for the bench; the last column of what isn't. {heard}: "
            f"{', '.join(given.voice)}. `python -m tests.measure.conversation DIR --voice VOICE ...`"
        )
        keep("conversation", results, shown, note)
    return 0


if __name__ == "__main__":
    sys.exit(main())
