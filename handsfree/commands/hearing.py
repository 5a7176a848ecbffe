"""`handsfree hear`: recognition alone, no session, no journal."""

from __future__ import annotations

import sys
from collections.abc import Iterable, Iterator, Sequence
from pathlib import Path
from typing import Any

from handsfree.errors import SoundError
from handsfree.hear import Hearing, Utterance
from handsfree.hear.ears import Ear, Ears, evidence
from handsfree.hear.endpoint import utterances
from handsfree.hear.sound import read_sound
from handsfree.understand import Context, Decision, Outcome, command_form, weighed
from handsfree.visible import sentence, shown

Form = dict[str, Any]


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


def hear_one(ear: Ear, utterance: Utterance, context: Context | None = None) -> tuple[Hearing, Decision]:
    """Recognise one utterance and decide what may be done with it.

    context: what is possible at this moment of a session; all that the check holds when not given.
    """
    hearing = ear.recogniser.hear(utterance)
    here = context or ear.listening.context
    return hearing, weighed(evidence(hearing), hearing.free, ear.listening.automaton, here, ear.thresholds)


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
