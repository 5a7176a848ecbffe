"""Write docs/cli.md, the page of all commands, from their parsers.

python -m tests.docs_cli
"""

from __future__ import annotations

import argparse
from collections.abc import Iterator
from pathlib import Path

from handsfree.cli import COMMANDS, Parser, parser

PAGE = Path(__file__).parents[1] / "docs" / "cli.md"

_HEAD = """\
# Commands

Made from the parsers by `python -m tests.docs_cli`; a test compares. `handsfree COMMAND --help` says it too.
A value in brackets is taken when nothing else is said.

| exit status | means |
| --- | --- |
| 0 | done |
| 1 | `journal verify` found something altered, or `share` had trouble with a journal |
| 2 | bad usage or bad input: one sentence on standard error says what to do; or a plan contradicts itself |
| 130 | stopped by Ctrl-C |
"""


def page() -> str:
    """Return the whole page."""
    commands = _commands_of(parser())
    parts = [_HEAD]
    for listed in COMMANDS:
        command = commands[listed.name].filled()
        parts += _section(command, listed.help, 2)
        actions = _helps_of(command)
        for name, action in _commands_of(command).items():
            parts += _section(action, actions[name], 3)
    return "\n".join(parts)


def _section(command: Parser, about: str, level: int) -> Iterator[str]:
    yield f"{'#' * level} {command.prog}\n"
    yield (
        f"{about[0].upper()}{about[1:]}." + (f" {command.description}" if command.description else "") + "\n"
    )
    actions = [action for action in command._actions if "--help" not in action.option_strings]
    rows = [action for action in actions if not isinstance(action, argparse._SubParsersAction)]
    if rows:
        named = [_name(action) for action in rows if not action.option_strings]
        must = [_name(action) for action in rows if action.option_strings and action.required]
        options = (
            ["[OPTIONS]"] if any(action.option_strings and not action.required for action in rows) else []
        )
        yield f"```text\n{' '.join([command.prog, *named, *must, *options])}\n```\n"
        yield "| argument | meaning |\n| --- | --- |"
        for action in rows:
            yield f"| `{_cell(_name(action))}` | {_cell(_meaning(command, action))} |"
        yield ""


def _name(action: argparse.Action) -> str:
    """Return an argument as it is typed, with the name of its value."""
    choices = "|".join(map(str, action.choices)) if action.choices else ""
    value = str(action.metavar or choices or action.dest.upper())
    if action.option_strings:
        if action.nargs == 0:
            return action.option_strings[-1]
        value = f"[{value}]" if action.nargs == "?" else value
        return f"{action.option_strings[-1]} {value}"
    return {"*": f"[{value} ...]", "+": f"{value} ...", "?": f"[{value}]"}.get(str(action.nargs), value)


def _meaning(command: Parser, action: argparse.Action) -> str:
    return command._get_formatter()._expand_help(action) if action.help else ""


def _cell(text: str) -> str:
    return text.replace("|", "\\|")


def _commands_of(command: Parser) -> dict[str, Parser]:
    return {
        name: made
        for action in command._actions
        if isinstance(action, argparse._SubParsersAction)
        for name, made in action.choices.items()
    }


def _helps_of(command: Parser) -> dict[str, str]:
    return {
        choice.dest: choice.help or ""
        for action in command._actions
        if isinstance(action, argparse._SubParsersAction)
        for choice in action._choices_actions
    }


if __name__ == "__main__":
    PAGE.write_text(page(), "utf-8")
