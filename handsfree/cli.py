"""The commands that a person types: parse, wire, and turn errors into exit codes."""

from __future__ import annotations

import argparse
import errno
import json
import sys
from collections.abc import Callable, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, NoReturn

from handsfree import __version__
from handsfree.commands.bench_options import add_bench_options
from handsfree.commands.export_options import add_export_command
from handsfree.commands.journal_options import add_journal_command, add_share_command
from handsfree.commands.kept_options import add_kept_options, changed_plan_of, facts_of, sounds_of
from handsfree.commands.plan_options import add_plan_command
from handsfree.commands.recogniser_options import add_recogniser, ears_of
from handsfree.commands.voice_options import add_adapt_command, add_rehearse_command, add_score_command
from handsfree.errors import GONE, HandsfreeError
from handsfree.streams import drop_output, ready_streams
from handsfree.visible import for_terminal, sentence, shown

if TYPE_CHECKING:
    from _typeshed import SupportsWrite

DONE, BAD = 0, 2
NO_ROOM = (errno.ENOSPC, errno.EDQUOT, errno.EFBIG)
NO_OUTPUT = (errno.EBADF, errno.EIO)


def main(arguments: Sequence[str] | None = None) -> int:
    """Run one command: 0 done, 2 bad usage or bad input (one sentence on standard error)."""
    ready_streams()
    try:
        return _run(arguments)
    except HandsfreeError as error:
        return _refused(error)
    except OSError as error:
        if error.errno in GONE:
            sys.stderr.close()  # whoever read our output has gone; nothing is wrong
            return DONE
        return _refused(_obstacle(error))
    except SystemExit as left:
        if isinstance(left.__context__, BrokenPipeError):  # how rich leaves when its reader has gone
            return DONE
        raise
    except KeyboardInterrupt:
        return 130


def _run(arguments: Sequence[str] | None) -> int:
    try:
        options = _parser().parse_args(arguments)
        run: Callable[[argparse.Namespace], int] = options.run
        status = run(options)
    except SystemExit:  # help, or bad usage
        sys.stdout.flush()
        raise
    sys.stdout.flush()
    return status


def _refused(why: object) -> int:
    print(f"handsfree: {sentence(why)}", file=sys.stderr)
    return BAD


def _obstacle(error: OSError) -> str:
    """Say what the system refused, where no command had a sentence of its own for it."""
    if error.errno in NO_ROOM:
        drop_output()
        return "the disk is full, so the output can't be written; free some space"
    why = error.strerror or error
    if error.filename is not None:
        return f"{shown(error.filename)}: the system says: {why}; name another file"
    if error.errno in NO_OUTPUT:
        drop_output()
        return f"standard output can't be written ({why}); send it to a terminal, a file or a pipe"
    return f"the system says: {why}"


class _Parser(argparse.ArgumentParser):
    """Says what is wrong in one line, whatever characters were typed."""

    def error(self, message: str) -> NoReturn:
        super().error(sentence(message))

    def _print_message(self, message: str, file: SupportsWrite[str] | None = None) -> None:
        super()._print_message(for_terminal(message), file)


def _parser() -> argparse.ArgumentParser:
    parser = _Parser(
        prog="handsfree",
        description="Say or key a bench measurement, hear what is left to remove, keep the log.",
    )
    parser.add_argument("--version", action="version", version=f"handsfree {__version__}")
    commands = parser.add_subparsers(required=True, metavar="COMMAND")

    replay = commands.add_parser("replay", help="play recordings or key files as one session")
    replay.add_argument("plan", type=Path, metavar="PLAN")
    replay.add_argument("inputs", nargs="+", metavar="INPUT", help="sound, folder, @list or .keys file")
    add_recogniser(replay)
    replay.add_argument("--journal", type=Path, metavar="FILE", help="keep the log here, or go on with it")
    add_kept_options(replay)
    replay.add_argument("--json", action="store_true", help="one object a line")
    replay.add_argument("--say", type=Path, metavar="DIR", help="save every answer as a WAV here")
    replay.set_defaults(run=_replay)

    hear = commands.add_parser("hear", help="recognition alone, no session")
    hear.add_argument("plan", type=Path, metavar="PLAN")
    hear.add_argument("inputs", nargs="+", metavar="WAV|DIR|@LIST")
    hear.add_argument("--check", metavar="NAME", help="the check of the plan to listen for (its first)")
    add_recogniser(hear)
    hear.add_argument("--json", action="store_true", help="one object a line")
    hear.set_defaults(run=_hear)

    bench = commands.add_parser("bench", help="work at the bench: microphone, keypad, voice, display")
    bench.add_argument(
        "plan", type=Path, nargs="?", metavar="PLAN", help="not given: make one by voice or key"
    )
    add_recogniser(bench)
    add_bench_options(bench)
    bench.set_defaults(run=_bench)

    add_export_command(commands)

    card = commands.add_parser("card", help="what may be said and keyed, to print")
    card.add_argument("plan", type=Path, metavar="PLAN")
    card.set_defaults(run=_card)

    add_plan_command(commands)
    add_journal_command(commands)
    add_share_command(commands)
    add_score_command(commands)
    add_rehearse_command(commands)
    add_adapt_command(commands)

    check = commands.add_parser("check", help="what works on this machine, with remedies")
    check.add_argument("--listen", action="store_true", help="try loudspeaker and microphone with your help")
    check.add_argument("--device", metavar="NAME", help="microphone: number or part of its name")
    check.add_argument("--output", metavar="NAME", help="loudspeaker: number or part of its name")
    check.set_defaults(run=_check)

    models = commands.add_parser("models", help="recogniser models: list them, get the Vosk one")
    models.add_argument("action", choices=("list", "get"))
    models.set_defaults(run=_models)
    return parser


def _hear(options: argparse.Namespace) -> int:
    from handsfree.commands.hearing import hear_files
    from handsfree.commands.inputs import named_files
    from handsfree.planfile import load_plan

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


def _replay(options: argparse.Namespace) -> int:
    from handsfree.bench import Bench
    from handsfree.commands.inputs import named_files
    from handsfree.commands.replaying import replay, step_form
    from handsfree.commands.saying import Sayer
    from handsfree.commands.table import show_log
    from handsfree.commands.telling import lines_of
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
                print(json.dumps(step_form(step, said)), flush=True)
            else:
                print(for_terminal("\n".join(lines_of(step))), flush=True)
        if not options.json:
            show_log(bench.session)
        for fault in sayer.faults:
            print(f"handsfree: {sentence(fault)}", file=sys.stderr)
    return DONE


def _bench(options: argparse.Namespace) -> int:
    from handsfree.commands.bench_front import run_bench

    return run_bench(options)


def _card(options: argparse.Namespace) -> int:
    from handsfree.planfile import load_plan
    from handsfree.show.card import phrase_card

    print(for_terminal(phrase_card(load_plan(options.plan))))
    return DONE


def _check(options: argparse.Namespace) -> int:
    from handsfree.check import run_checks, table_of

    if options.listen:
        from handsfree.commands.listening import run_listen_check

        run_listen_check(options.device, options.output, lambda line: print(for_terminal(line), flush=True))
        return DONE
    print(for_terminal(table_of(run_checks())))
    return DONE


def _models(options: argparse.Namespace) -> int:
    from handsfree.hear import models

    if options.action == "list":
        print(for_terminal(models.listing()))
    else:
        print(for_terminal(f"The model is in {models.get_model()}"))
    return DONE


if __name__ == "__main__":
    sys.exit(main())
