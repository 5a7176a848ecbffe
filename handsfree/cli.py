"""The table of commands; errors become exit statuses here."""

from __future__ import annotations

import argparse
import errno
import os
import sys
from collections.abc import Callable, Sequence
from importlib import import_module
from importlib.util import find_spec
from typing import Any, NamedTuple, NoReturn

from handsfree import __version__
from handsfree.errors import GONE, HandsfreeError
from handsfree.streams import drop_output, ready_streams
from handsfree.visible import for_terminal, sentence, shown

DONE, BAD = 0, 2
NO_ROOM = (errno.ENOSPC, errno.EDQUOT, errno.EFBIG)
NO_OUTPUT = (errno.EBADF, errno.EIO)


class Listed(NamedTuple):
    """One command: its name, its line in the help, and its module, which is imported when it is typed."""

    name: str
    help: str
    module: str


COMMANDS = (
    Listed("replay", "play recordings or key files as one session", "handsfree.commands.replay"),
    Listed("hear", "recognition alone, no session", "handsfree.commands.hear"),
    Listed("front", "everything in a browser: go on, begin, look back", "handsfree.commands.front"),
    Listed("bench", "work at the bench: microphone, keypad, voice, display", "handsfree.commands.bench"),
    Listed(
        "export",
        "write a journal's session as CSV, JSON, spreadsheet or build sheet",
        "handsfree.commands.export",
    ),
    Listed("card", "what may be said and keyed, to print", "handsfree.commands.card"),
    Listed("plan", "make a plan, print it with its targets, find contradictions", "handsfree.commands.plan"),
    Listed("journal", "look back: list, show, compare, stats, verify, play", "handsfree.commands.journal"),
    Listed("share", "copy journals to the shop's database", "handsfree.commands.share"),
    Listed("score", "how well a folder of recordings is understood", "handsfree.commands.score"),
    Listed(
        "rehearse", "read phrases aloud, to see how well you are understood", "handsfree.commands.rehearse"
    ),
    Listed("adapt", "learn from your rehearsals how you speak", "handsfree.commands.adapt"),
    Listed("check", "what works on this machine, with remedies", "handsfree.commands.check"),
    Listed("models", "recogniser models: list them, get the Vosk one", "handsfree.commands.models"),
)


def main(arguments: Sequence[str] | None = None) -> int:
    """Run one command: 0 done, 2 bad usage or bad input (one sentence on standard error)."""
    ready_streams()
    try:
        return _run(arguments)
    except HandsfreeError as error:
        return _refused(error)
    except OSError as error:
        if error.errno in GONE:
            sys.stderr.close()  # the reader of our output has gone; no fault
            return DONE
        return _refused(_obstacle(error))
    except SystemExit as left:
        if isinstance(left.__context__, BrokenPipeError):  # rich exits this way when its reader has gone
            return DONE
        raise
    except KeyboardInterrupt:
        return 130


def _run(arguments: Sequence[str] | None) -> int:
    given = sys.argv[1:] if arguments is None else arguments
    try:
        options = parser().parse_args(given or _alone())
        run: Callable[[argparse.Namespace], int] = options.run
        status = run(options)
    except SystemExit:  # help, or bad usage
        sys.stdout.flush()
        raise
    sys.stdout.flush()
    return status


def _alone() -> list[str]:
    """Return what is meant by no command: the front page, where a browser can be opened and seen."""
    screen = sys.platform in {"win32", "darwin"} or any(map(os.environ.get, ("DISPLAY", "WAYLAND_DISPLAY")))
    shown_to = sys.stdout is not None and sys.stdout.isatty()
    return ["front"] if screen and shown_to and find_spec("aiohttp") is not None else []


def _refused(why: object) -> int:
    print(f"handsfree: {sentence(why)}", file=sys.stderr)
    return BAD


def _obstacle(error: OSError) -> str:
    """Report an error of the system for which no command had a sentence of its own."""
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


class Parser(argparse.ArgumentParser):
    """Reports bad usage in one line, for any typed characters.

    module: the module that adds a command's arguments once it is typed.
    """

    def __init__(self, *arguments: Any, **options: Any) -> None:
        super().__init__(*arguments, **options)
        self.module: str | None = None

    def filled(self) -> Parser:
        """Return this parser with the arguments that its module adds."""
        if self.module is not None:
            module, self.module = self.module, None
            import_module(module).add_arguments(self)
        return self

    def parse_known_args(self, args: Any = None, namespace: Any = None) -> Any:
        """Parse, as argparse does, with the arguments of the command that was typed."""
        self.filled()
        return super().parse_known_args(args, namespace)

    def error(self, message: str) -> NoReturn:
        """Refuse bad usage."""
        super().error(sentence(message))

    def _print_message(self, message: str, file: Any = None) -> None:
        super()._print_message(for_terminal(message), file)


def parser() -> Parser:
    """Return the parser of all commands; a command's own parser is filled when it is typed."""
    made = Parser(
        prog="handsfree",
        description="Say or key a bench measurement, hear what is left to remove, keep the log.",
    )
    made.add_argument("--version", action="version", version=f"handsfree {__version__}")
    commands = made.add_subparsers(required=True, metavar="COMMAND")
    for listed in COMMANDS:
        commands.add_parser(listed.name, help=listed.help).module = listed.module
    return made


if __name__ == "__main__":
    sys.exit(main())
