"""`handsfree hear`: recognition alone, no session, no journal."""

from __future__ import annotations

import argparse
import json
import sys
from collections.abc import Iterable, Iterator, Sequence
from pathlib import Path
from typing import Any

from handsfree.commands.options import DONE, add_plan, add_recogniser, ears_of, named_files
from handsfree.ears import Ear, Ears, evidence
from handsfree.errors import SoundError
from handsfree.hear import Hearing, Utterance, read_sound, utterances
from handsfree.planfile import load_plan
from handsfree.understand import Decision, Outcome, command_form, decide
from handsfree.visible import for_terminal, sentence, shown

Form = dict[str, Any]


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
    """Recognise files, and print what was heard in each."""
    plan = load_plan(options.plan)
    check = plan.check(options.check) if options.check else plan.checks[0]
    paths = named_files(options.inputs)
    ears = ears_of(plan, options)
    for form in hear_files(ears, check.name, paths):
        if options.json:
            print(json.dumps(form), flush=True)
        else:
            name = for_terminal(str(form["file"]))
            print(f"{name}: {form['outcome']}: {form['heard'] or '(nothing)'}", flush=True)
    return DONE


def hear_files(ears: Ears, check: str, paths: Iterable[Path]) -> Iterator[Form]:
    """Recognise files one after the other; one object an utterance, as `--json` prints it.

    A file that can't be read is reported on standard error and gives no object.
    """
    ear = ears.ear(check)
    for path in paths:
        try:
            samples = read_sound(path)
        except SoundError as error:
            print(sentence(error), file=sys.stderr)
            continue
        found = utterances(samples)
        if not found:
            yield silent_form(shown(path), len(samples) / 16000, ear.recogniser.name)
        for utterance in found:
            hearing, decision = hear_one(ear, utterance)
            yield form_of(shown(path), hearing, decision)


def hear_one(ear: Ear, utterance: Utterance) -> tuple[Hearing, Decision]:
    """Recognise one utterance and decide what may be done with it."""
    hearing = ear.recogniser.hear(utterance)
    return hearing, decide(evidence(hearing), ear.listening.automaton, ear.listening.context, ear.thresholds)


def form_of(file: str, hearing: Hearing, decision: Decision) -> Form:
    """One utterance as an object. A chain of readings gives its first as `command`, all as `commands`."""
    meaning = decision.meaning
    commands: Sequence[Form] = [command_form(command) for command in meaning.commands] if meaning else []
    heard = decision.outcome is not Outcome.IGNORE
    return {
        "file": file,
        "start": round(hearing.start_s, 3),
        "end": round(hearing.end_s, 3),
        "heard": " ".join(hearing.words),
        "outcome": decision.outcome.value,
        "command": commands[0] if commands and heard else None,
        "commands": list(commands) if heard else [],
        "fit": _rounded(hearing.fit),
        "margin": _rounded(hearing.margin),
        "runner_up": " ".join(hearing.runner_up) if hearing.runner_up else None,
        "decode_ms": round(hearing.decode_ms, 1),
        "recogniser": hearing.recogniser,
        "free": hearing.free,
    }


def silent_form(file: str, length_s: float, recogniser: str) -> Form:
    """The object of a file in which nobody speaks."""
    return {
        "file": file,
        "start": 0.0,
        "end": round(length_s, 3),
        "heard": "",
        "outcome": Outcome.IGNORE.value,
        "command": None,
        "commands": [],
        "fit": None,
        "margin": None,
        "runner_up": None,
        "decode_ms": 0.0,
        "recogniser": recogniser,
        "free": None,
    }


def _rounded(number: float | None) -> float | None:
    return None if number is None else round(number, 3)
