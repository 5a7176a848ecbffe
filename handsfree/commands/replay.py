"""`handsfree replay`: run recordings and key files as one live session."""

from __future__ import annotations

import argparse
import json
import sys
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path
from types import TracebackType
from typing import TYPE_CHECKING, Any

from handsfree.commands.hear import utterance_json
from handsfree.commands.options import (
    DONE,
    add_kept_options,
    add_plan,
    add_recogniser,
    changed_plan_of,
    ears_of,
    facts_of,
    is_keys,
    named_files,
    sounds_of,
)
from handsfree.commands.outputs import write_output
from handsfree.errors import HandsfreeError, KeypadError
from handsfree.textfile import read_text
from handsfree.visible import for_terminal, sentence, shown

if TYPE_CHECKING:
    from handsfree.bench import Bench, Exchange
    from handsfree.speak import Reply, Sound

_WIDTH = 10


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Add the arguments of `handsfree replay`."""
    add_plan(parser)
    parser.add_argument("inputs", nargs="+", metavar="INPUT", help="sound, folder, @list or .keys file")
    add_recogniser(parser)
    parser.add_argument("--journal", type=Path, metavar="FILE", help="keep the log here, or go on with it")
    add_kept_options(parser)
    parser.add_argument("--json", action="store_true", help="one object a line")
    parser.add_argument("--say", type=Path, metavar="DIR", help="save every answer as a WAV here")
    parser.set_defaults(run=run)


def run(options: argparse.Namespace) -> int:
    """Replay files as one session; print each exchange, then the log."""
    from handsfree.bench import Bench
    from handsfree.journal import Journal, Opened, open_to_go_on
    from handsfree.planfile import load_plan

    plan = load_plan(options.plan)
    inputs = list(named_files(options.inputs))
    ears = ears_of(plan, options)
    opened = open_to_go_on(options.journal) if options.journal else Opened(Journal.in_memory())
    for report in opened.reports:
        print(f"handsfree: {sentence(report)}", file=sys.stderr)
    with opened.journal as journal, Sayer(options.say, [options.plan, *inputs]) as sayer:
        bench = Bench(plan, journal, ears, sounds=sounds_of(journal, options))
        greeting = bench.open(changed_plan_of(options), **facts_of(options), **opened.facts)
        sayer.say(greeting.reply)
        if not options.json:
            print(for_terminal(f"{plan.name}\n{greeting.reply.text}\n"))
        for step in replay(bench, iter(inputs)):
            said = sayer.say(step.exchange.reply) if step.exchange else None
            if options.json:
                print(json.dumps(step_json(step, said)), flush=True)
            else:
                print(for_terminal("\n".join(lines_of(step))), flush=True)
        if not options.json:
            from handsfree.commands.printing import show_log  # here: JSON needs no tables

            show_log(bench.session)
        for fault in sayer.faults:
            print(f"handsfree: {sentence(fault)}", file=sys.stderr)
    return DONE


@dataclass(frozen=True, slots=True)
class Step:
    """One exchange of a replay with its source; `fault` if a file couldn't be used."""

    origin: str
    start_s: float | None = None
    end_s: float | None = None
    exchange: Exchange | None = None
    fault: str | None = None


def replay(bench: Bench, paths: Iterable[Path]) -> Iterator[Step]:
    """Play files to an open bench, in order. An unusable file is reported and skipped."""
    from handsfree.hear import read_sound, utterances
    from handsfree.understand import entries, not_entered

    for path in paths:
        name = shown(path.name)
        try:
            if is_keys(path):
                keys = _keys(path)
                for entry in entries(keys):
                    yield Step(name, exchange=bench.key(entry, origin=name))
                if left := not_entered(keys):
                    said = f'the keys "{left}" at its end were not entered; end each entry with Enter'
                    yield Step(name, fault=said)
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
    from handsfree.understand import read_keys

    return read_keys(read_text(path, "key file", KeypadError), shown(path))


def step_json(step: Step, said: str | None = None) -> dict[str, Any]:
    """Return a step as `--json` prints it. `said`: the file of its spoken answer."""
    from handsfree.understand import command_json

    exchange = step.exchange
    form: dict[str, Any] = {"file": step.origin, "start": step.start_s, "end": step.end_s}
    if exchange is None:
        return form | {"fault": step.fault} if step.fault else form | {"outcome": "ignore", "heard": ""}
    if exchange.hearing is not None and exchange.decision is not None:
        form = utterance_json(step.origin, exchange.hearing, exchange.decision)
    else:
        commands = [command_json(command) for command in exchange.commands]
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


def lines_of(step: Step) -> list[str]:
    """Return the words heard or keyed, and the answer."""
    from handsfree.understand import Outcome

    head = step.origin if step.start_s is None else f"{step.origin} {step.start_s:.1f}-{step.end_s:.1f} s"
    exchange = step.exchange
    if exchange is None:
        return [f"{head}\n{'':4}{'fault' if step.fault else 'silence':<{_WIDTH}}{step.fault or ''}".rstrip()]
    lines = [head]
    if exchange.source == "keypad":
        lines.append(f"{'':4}{'keyed':<{_WIDTH}}{exchange.words} Enter".rstrip())
    else:
        outcome = exchange.decision.outcome if exchange.decision else Outcome.IGNORE
        words = exchange.words if outcome is not Outcome.IGNORE else "(talk that isn't for the bench)"
        lines.append(f"{'':4}{'heard' if outcome is not Outcome.ASK else 'unsure':<{_WIDTH}}{words}")
    if exchange.reply.text:
        lines.append(f"{'':4}{'answer':<{_WIDTH}}{exchange.reply.text}")
    return lines


class Sayer:
    """Renders answers to a folder of numbered WAV files; without a folder it does nothing.

    faults: the voice's faults, each once. If the voice fails, only the tones are saved.
    """

    def __init__(self, folder: Path | None, inputs: Sequence[Path] = ()) -> None:
        """Save to `folder`; never overwrite the `inputs` of the command."""
        from handsfree.devices import FolderPlayer
        from handsfree.speak import EngineVoice, wav_bytes

        def save(path: Path, sound: Sound) -> None:
            write_output(path, wav_bytes(sound), inputs)

        self._player = FolderPlayer(folder, save) if folder else None
        self._voice = EngineVoice() if folder else None
        self.faults: list[str] = []

    def say(self, reply: Reply) -> str | None:
        """Save one answer; return the file's name, or None if nothing is said."""
        from handsfree.speak import SILENCE, render_answer

        if self._player is None or reply is SILENCE:
            return None
        answer = render_answer(reply, self._voice)
        if answer.fault and answer.fault not in self.faults:
            self.faults.append(answer.fault)
        self._player.play(answer.sound, reply.text)
        return str(self._player.last) if self._player.last else None

    def __enter__(self) -> Sayer:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        if self._voice is not None:
            self._voice.close()
        if self._player is not None:
            self._player.close()
