"""What may be typed after `handsfree plan`."""

from __future__ import annotations

import argparse
from pathlib import Path
from typing import Any


def add_plan_command(commands: Any) -> None:  # argparse gives the type of its subparsers no public name
    """Add `plan` with its own commands to the parser's commands."""
    plan = commands.add_parser("plan", help="make a plan, print it with its targets, find contradictions")
    actions = plan.add_subparsers(required=True, metavar="ACTION")

    new = actions.add_parser(
        "new",
        help="make one by asking, from templates of the trade",
        description="Asks on the terminal for whatever --answer and --answers leave open.",
    )
    new.add_argument("checks", nargs="*", metavar="CHECK", help="templates in the order of work; see --list")
    new.add_argument("--list", action="store_true", help="the templates; with CHECKs, their questions")
    new.add_argument(
        "--own", action="append", type=Path, default=[], metavar="FILE", help="a template of yours"
    )
    new.add_argument("--answer", action="append", default=[], metavar="KEY=ANSWER", help="answer a question")
    new.add_argument("--answers", type=Path, metavar="FILE", help="answers as TOML: key = answer")
    new.add_argument("--out", type=Path, metavar="FILE", help="standard output when not given")
    new.set_defaults(run=_run("new"))

    show = actions.add_parser("show", help="every target, and how it came about")
    show.add_argument("plan", type=Path, metavar="PLAN")
    show.set_defaults(run=_run("show"))

    check = actions.add_parser("check", help="what contradicts itself; status 2 if anything does")
    check.add_argument("plan", type=Path, metavar="PLAN")
    check.set_defaults(run=_run("check"))

    share = actions.add_parser("share", help="rings tried in one bore: which goes where for least filing")
    share.add_argument("journal", type=Path, metavar="JOURNAL")
    share.set_defaults(run=_run("share"))


def _run(name: str) -> Any:
    def run(options: argparse.Namespace) -> int:
        from handsfree.commands import planning  # here: other commands need none of it

        answer: int = getattr(planning, f"run_{name}")(options)
        return answer

    return run
