"""`handsfree hear`: recognition alone, no session, no journal."""

from __future__ import annotations

import argparse
import json
import sys
from collections.abc import Iterable, Iterator
from pathlib import Path
from typing import TYPE_CHECKING, Any

from handsfree.commands.options import DONE, add_plan, add_recogniser, ears_of, named_files
from handsfree.errors import SoundError
from handsfree.visible import for_terminal, sentence, shown

if TYPE_CHECKING:
    from handsfree.ears import Ear
    from handsfree.hear import Hearing
    from handsfree.understand import Decision


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Add the arguments of `handsfree hear`."""
    add_plan(parser)
    parser.add_argument(
        "inputs", nargs="+", metavar="WAV|DIR|@LIST", help="sound, folder, or @ and a list of them"
    )
    parser.add_argument("--check", metavar="NAME", help="the check of the plan to listen for (its first)")
    add_recogniser(parser)
    parser.add_argument("--json", action="store_true", help="one object a line")
    parser.set_defaults(run=run)


def run(options: argparse.Namespace) -> int:
    """Recognise files, and print the words heard in each."""
    from handsfree.planfile import load_plan

    plan = load_plan(options.plan)
    check = plan.check(options.check) if options.check else plan.checks[0]
    paths = named_files(options.inputs)
    ear = ears_of(plan, options).ear(check.name)
    for file, hearing, decision in hear_files(ear, paths):
        if options.json:
            print(json.dumps(utterance_json(file, hearing, decision)), flush=True)
        else:
            heard = " ".join(hearing.words) or "(nothing)"
            print(f"{for_terminal(file)}: {decision.outcome}: {heard}", flush=True)
    return DONE


def hear_files(ear: Ear, paths: Iterable[Path]) -> Iterator[tuple[str, Hearing, Decision]]:
    """Recognise files in turn; yield each one's name with the hearing and decision of each utterance.

    A file without speech has one hearing without words. An unreadable file is reported on standard
    error and skipped.
    """
    from handsfree.hear import SAMPLERATE_HZ, Hearing, read_sound, utterances
    from handsfree.understand import Decision, Outcome

    for path in paths:
        try:
            samples = read_sound(path)
        except SoundError as error:
            print(sentence(error), file=sys.stderr)
            continue
        found = utterances(samples)
        if not found:
            silence = Hearing((), 0.0, len(samples) / SAMPLERATE_HZ, ear.recogniser.name)
            yield shown(path), silence, Decision(Outcome.IGNORE)
        for utterance in found:
            yield shown(path), *ear.hear(utterance)


def utterance_json(file: str, hearing: Hearing, decision: Decision) -> dict[str, Any]:
    """Return an utterance as `--json` prints it. For a chain of readings, `command` is the first."""
    from handsfree.understand import command_json

    meaning = decision.meaning
    commands = [command_json(command) for command in meaning.commands] if meaning else []
    return {
        "file": file,
        "start": round(hearing.start_s, 3),
        "end": round(hearing.end_s, 3),
        "heard": " ".join(hearing.words),
        "outcome": decision.outcome.value,
        "command": commands[0] if commands else None,
        "commands": commands,
        "fit": _rounded(hearing.fit),
        "margin": _rounded(hearing.margin),
        "runner_up": " ".join(hearing.runner_up) if hearing.runner_up else None,
        "decode_ms": round(hearing.decode_ms, 1),
        "recogniser": hearing.recogniser,
        "free": hearing.free,
    }


def _rounded(number: float | None) -> float | None:
    return None if number is None else round(number, 3)
