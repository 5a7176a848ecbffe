"""`handsfree score`: measure how well a folder of recordings is understood."""

from __future__ import annotations

import argparse
import json
import sys
import zlib
from collections.abc import Callable, Iterator, Mapping, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any

from handsfree.commands.options import DONE, add_recogniser, count, decibels, ears_of, seed
from handsfree.errors import PlanError, ScoreError, did_you_mean

if TYPE_CHECKING:
    from handsfree.ears import Ear
    from handsfree.hear import Samples
    from handsfree.plan import Check, Plan
    from handsfree.recordings import Condition, ManifestRow, Recognised, Scored
    from handsfree.understand import Listening

_WIDTH = 24


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Add the arguments of `handsfree score`."""
    parser.description = (
        "The folder has a manifest.csv with the columns file, voice, kind (reading, bare, word "
        "or chatter), text, cylinder, ring, value and unit. Without --plan the plan.toml in the folder "
        "is taken, else one is made from the cylinders and rings that the manifest names."
    )
    parser.add_argument("folder", type=Path, metavar="DIR", help="recordings with their manifest.csv")
    parser.add_argument(
        "--plan", type=Path, metavar="PLAN", help="the plan that the recordings were made for"
    )
    parser.add_argument("--check", metavar="NAME", help="the check of the plan to listen for (its first)")
    parser.add_argument(
        "--noise", action="append", metavar="KIND", help="put this noise under them; may be given repeatedly"
    )
    parser.add_argument(
        "--snr", action="append", type=decibels, metavar="DB", help="speech this far above the noise; so too"
    )
    parser.add_argument("--voice", metavar="NAME", help="only this voice of the manifest")
    parser.add_argument("--every", type=count, default=1, metavar="N", help="only one recording in N")
    parser.add_argument("--seed", type=seed, default=1, metavar="N", help="changes the noise (1)")
    add_recogniser(parser)
    parser.add_argument("--json", action="store_true", help="one object")
    parser.set_defaults(run=run)


def run(options: argparse.Namespace) -> int:
    """Score a folder and print the result."""
    from handsfree.recordings import plan_for, report, rows_of

    folder: Path = options.folder
    conditions = conditions_of(options.noise, options.snr)
    rows = rows_of(folder, kept_rows(folder, options.voice, options.every))
    plan, plan_from = plan_for(folder, rows, options.plan)
    check = check_of(plan, options.check, rows)
    ears = ears_of(plan, options)
    ear = ears.ear(check.name)
    said = said_by(ear.listening)
    unsayable = [row for row in rows if row.kind != "chatter" and not said(row.text)]
    scored = list(_scored(folder, rows, ear, conditions, options.seed))
    form = {
        "folder": str(folder),
        "recordings": len(rows),
        "voices": len({row.voice for row in rows}),
        "plan": plan_from,
        "check": check.name,
        "recogniser": ear.recogniser.name,
        "adapted": ears.adaptation is not None,
        **report(scored),
        "not_in_grammar": [row.file for row in unsayable],
        "not_right": [_told(one) for one in scored if one.result != "right" and _matters(one)],
    }
    print(json.dumps(form) if options.json else text_of(form))
    return DONE


def conditions_of(noises: Sequence[str] | None, snrs_db: Sequence[float] | None) -> list[Condition]:
    """Return every noise at every ratio; "none" once.

    Raises:
        ScoreError: an unknown noise, a ratio without a noise, or a noise without a ratio.
    """
    from handsfree.recordings import Condition, check_condition

    named = list(dict.fromkeys(noises or ["none"]))
    if snrs_db and all(noise == "none" for noise in named):
        raise ScoreError("a ratio was given and no noise; add one, such as --noise pink")
    ratios: Sequence[float | None] = list(dict.fromkeys(snrs_db)) if snrs_db else [None]
    found = [Condition(noise, ratio) for noise in named for ratio in ([None] if noise == "none" else ratios)]
    for condition in found:
        check_condition(condition)
    return found


def check_of(plan: Plan, name: str | None, rows: Sequence[ManifestRow] = ()) -> Check:
    """Return the named check, or the one whose grammar covers the most transcripts.

    Raises:
        PlanError: the plan has no such check.
    """
    if name is None and len(plan.checks) > 1 and rows:
        return max(plan.checks, key=lambda check: _sayable(plan, check, rows))
    if name is None:
        return plan.checks[0]
    names = [check.name for check in plan.checks]
    if name not in names:
        raise PlanError(f'"{name}" is no check of {plan.name}; {did_you_mean(name, names)}')
    return plan.check(name)


def said_by(listening: Listening) -> Callable[[str], tuple[str, ...]]:
    """Return a function from a manifest's text to the grammar's words; empty if they aren't in it."""
    from handsfree.adapt import plain_text
    from handsfree.understand import Letters

    letters = Letters(listening.automaton)

    def said(text: str) -> tuple[str, ...]:
        words = tuple(plain_text(text).split())
        if listening.automaton.accepts(words):
            return words
        found = letters.words(" ".join(text.split()))
        return found[0] if found else ()

    return said


def _sayable(plan: Plan, check: Check, rows: Sequence[ManifestRow]) -> int:
    from handsfree.understand import listen_for

    said = said_by(listen_for(plan, check))
    return sum(bool(said(row.text)) for row in rows if row.kind != "chatter")


def hear_whole(ear: Ear, samples: Samples) -> list[Recognised]:
    """Recognise a whole recording as the program does, by utterances."""
    from handsfree.hear import utterances

    return [ear.hear(utterance) for utterance in utterances(samples)]


def kept_rows(folder: Path, voice: str | None, every: int = 1) -> Callable[[ManifestRow], bool]:
    """Return a filter: rows of one voice, every n-th.

    Raises:
        ScoreError: no row of that voice.
    """
    from handsfree.recordings import read_manifest

    voices = [] if voice is None else sorted({row.voice for row in read_manifest(folder)})
    if voice is not None and voice not in voices:
        raise ScoreError(f'{folder} has no voice "{voice}"; {did_you_mean(voice, voices)}')

    def keep(row: ManifestRow) -> bool:
        return voice in (None, row.voice) and zlib.crc32(row.file.encode()) % every == 0

    return keep


def _scored(
    folder: Path, rows: Sequence[ManifestRow], ear: Ear, conditions: Sequence[Condition], seed: int
) -> Iterator[Scored]:
    from handsfree.hear import read_sound
    from handsfree.recordings import score_rows

    total, done = len(rows) * len(conditions), 0
    for condition in conditions:
        for one in score_rows(
            rows,
            lambda row: read_sound(folder / row.file),
            lambda samples: hear_whole(ear, samples),
            condition,
            seed,
        ):
            done += 1
            _progress(f"{done} of {total}", last=done == total)
            yield one


def _progress(text: str, *, last: bool) -> None:
    if sys.stderr.isatty():
        print(f"\r\033[K{'' if last else text}", end="", file=sys.stderr, flush=True)


def _matters(one: Scored) -> bool:
    from handsfree.recordings import WRONG

    return one.row.kind != "chatter" or one.result == WRONG


def _told(one: Scored) -> dict[str, Any]:
    return {
        "file": one.row.file,
        "noise": str(one.condition),
        "text": one.row.text,
        "result": one.result,
        "heard": [" ".join(hearing.words) for hearing, _ in one.heard],
    }


def text_of(form: Mapping[str, Any]) -> str:
    """Return a score as a table."""
    from handsfree.recordings import WRONG

    own = ", used to your voice" if form["adapted"] else ""
    lines = [
        f"{form['folder']}: {form['recordings']} recordings, {_voices(form['voices'])}",
        f"plan {form['plan']}, check {form['check']}; recogniser {form['recogniser']}{own}",
        "",
        _columns("", "said", "accepted right", "accepted wrong", "asked", "ignored"),
        _line("commands", form["commands"]),
    ]
    for title, key in (("by kind", "by_kind"), ("by voice", "by_voice"), ("by noise", "by_noise")):
        groups = {name: one for name, one in form[key].items() if name != "chatter"}
        if groups:
            lines += ["", title, *(_line(f"  {name}", one) for name, one in groups.items())]
    if form["chatter"]["total"]:
        lines += ["", _columns("talk for nobody", "heard", "", "acted on", "asked", "ignored")]
        lines += [_line(f"  {name}", one, talk=True) for name, one in form["chatter_by_noise"].items()]
    lines += ["", "In brackets: where the share may lie, 95 % Wilson interval.", _times(form)]
    beyond = form["not_in_grammar"]
    if beyond:
        lines.append(f"{len(beyond)} say what this plan's grammar doesn't hold (first: {beyond[0]}).")
    for one in form["not_right"]:
        if one["result"] == WRONG:
            heard = " | ".join(one["heard"])
            lines.append(f'wrong: {one["file"]} (noise: {one["noise"]}): "{one["text"]}" taken as "{heard}"')
    return "\n".join(lines)


def _voices(count: int) -> str:
    return "1 voice" if count == 1 else f"{count} voices"


def _columns(name: str, *cells: object) -> str:
    said, right, wrong, asked, ignored = cells
    return f"{name:{_WIDTH}} {said:>5}  {right:>20}  {wrong:>20}  {asked:>5}  {ignored:>7}".rstrip()


def _line(name: str, one: Mapping[str, Any], *, talk: bool = False) -> str:
    right = "" if talk else _share(one, "right")
    return _columns(name, one["total"], right, _share(one, "wrong"), one["asked"], one["ignored"])


def _share(one: Mapping[str, Any], name: str) -> str:
    if not one["total"]:
        return "-"
    low, high = one[f"{name}_interval"]
    return f"{100 * one[f'{name}_share']:.1f} % [{100 * low:.1f}-{100 * high:.1f}]"


def _times(form: Mapping[str, Any]) -> str:
    memory = form["peak_memory_mb"]
    return (
        f"Decoding a recording took {form['decode_ms_p50']:.0f} ms (half of them less), "
        f"{form['decode_ms_p95']:.0f} ms (95 in 100 less); {form['real_time_factor']:.3f} of real time; "
        f"memory at its peak {'not known' if memory is None else f'{memory:.0f} MB'}."
    )
