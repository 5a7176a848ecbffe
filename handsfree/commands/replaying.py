"""`handsfree replay`: recordings and key files as if they were live, one session."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from handsfree.bench import Bench, Exchange
from handsfree.commands.hearing import form_of
from handsfree.commands.inputs import is_keys
from handsfree.errors import HandsfreeError, KeypadError
from handsfree.hear import read_sound, utterances
from handsfree.textfile import read_text
from handsfree.understand import command_form, entries, read_keys
from handsfree.visible import sentence, shown


@dataclass(frozen=True, slots=True)
class Step:
    """One exchange of a replay with where it came from; `fault` where a file couldn't be used."""

    origin: str
    start_s: float | None = None
    end_s: float | None = None
    exchange: Exchange | None = None
    fault: str | None = None


def replay(bench: Bench, paths: Iterable[Path]) -> Iterator[Step]:
    """Play files to an open bench, in order. A file that can't be used is told, and the rest go on."""
    for path in paths:
        name = shown(path.name)
        try:
            if is_keys(path):
                for entry in entries(_keys(path)):
                    yield Step(name, exchange=bench.key(entry, origin=name))
                continue
            found = utterances(read_sound(path))
        except HandsfreeError as error:
            yield Step(name, fault=sentence(error))
            continue
        for utterance in found:
            exchange = bench.hear(utterance, origin=name)
            yield Step(name, utterance.start_s, utterance.end_s, exchange)
        if not found:
            yield Step(name)


def _keys(path: Path) -> list[str]:
    return read_keys(read_text(path, "key file", KeypadError), shown(path))


def step_form(step: Step, said: str | None = None) -> dict[str, Any]:
    """A step as the object that `--json` prints. `said`: the file that its answer was saved in."""
    exchange = step.exchange
    form: dict[str, Any] = {"file": step.origin, "start": step.start_s, "end": step.end_s}
    if exchange is None:
        return form | {"fault": step.fault} if step.fault else form | {"outcome": "ignore", "heard": ""}
    if exchange.hearing is not None and exchange.decision is not None:
        form = form_of(step.origin, exchange.hearing, exchange.decision)
    else:
        commands = [command_form(command) for command in exchange.commands]
        form |= {
            "heard": exchange.words,
            "outcome": "accept" if commands else "ask",
            "command": commands[0] if commands else None,
            "commands": commands,
            "recogniser": None,
        }
    form["source"] = exchange.source
    form["logged"] = [
        {"kind": event.kind.value, "seq": event.seq, "id": event.id, "verdict": event.draft.verdict}
        for event in exchange.events
    ]
    form["answer"] = exchange.reply.text
    form["tone"] = exchange.reply.tone.value
    if said is not None:
        form["said"] = said
    return form
