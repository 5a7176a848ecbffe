"""What may be typed after `handsfree journal` and `handsfree share`."""

from __future__ import annotations

import argparse
from datetime import date
from pathlib import Path
from typing import Any


def add_journal_command(commands: Any) -> None:  # argparse gives the type of its subparsers no public name
    """Add `journal` with its own commands to the parser's commands."""
    journal = commands.add_parser("journal", help="look back: list, show, compare, stats, verify, play")
    actions = journal.add_subparsers(required=True, metavar="ACTION")

    listing = actions.add_parser("list", help="the journals in files and folders, the oldest first")
    listing.add_argument("places", nargs="*", type=Path, default=[Path()], metavar="JOURNAL|FOLDER")
    listing.add_argument("--engine", metavar="NAME", help="only engines or plans whose name holds this")
    listing.add_argument(
        "--since", type=date.fromisoformat, metavar="DAY", help="from this day on: 2026-11-25"
    )
    listing.add_argument("--until", type=date.fromisoformat, metavar="DAY", help="up to this day")
    listing.set_defaults(run=_run("list_journals"))

    show = actions.add_parser("show", help="what a session came to, and the work it took")
    show.add_argument("journal", type=Path, metavar="JOURNAL")
    show.add_argument("--log", action="store_true", help="every entry too, with what was heard")
    show.set_defaults(run=_run("show"))

    compare = actions.add_parser("compare", help="two sessions side by side: the engine before and after")
    compare.add_argument("before", type=Path, metavar="BEFORE")
    compare.add_argument("after", type=Path, metavar="AFTER")
    compare.set_defaults(run=_run("compare"))

    stats = actions.add_parser("stats", help="mean, spread, Cp and Cpk of checks over many journals")
    stats.add_argument("places", nargs="*", type=Path, default=[Path()], metavar="JOURNAL|FOLDER")
    stats.add_argument("--check", metavar="NAME", help="only this check")
    stats.add_argument("--engine", metavar="NAME", help="only engines whose name holds this")
    stats.add_argument(
        "--confidence", type=float, default=0.95, metavar="0..1", help="of the intervals (0.95)"
    )
    stats.add_argument("--plot", type=Path, metavar="FILE", help="draw them too, into a PDF or SVG")
    stats.set_defaults(run=_run("stats"))

    verify = actions.add_parser("verify", help="whether anything was altered, removed or moved: 0 or 1")
    verify.add_argument("journal", type=Path, metavar="JOURNAL")
    verify.add_argument("--hash", metavar="HASH", help="from a build sheet: the journal must still hold it")
    verify.set_defaults(run=_run("verify"))

    play = actions.add_parser("play", help="play the kept sound of an event")
    play.add_argument("journal", type=Path, metavar="JOURNAL")
    play.add_argument("number", type=int, metavar="N", help="as `show --log` gives it")
    play.add_argument("--out", type=Path, metavar="FILE", help="save it as FLAC instead")
    play.set_defaults(run=_run("play"))


def add_share_command(commands: Any) -> None:
    """Add `share` to the parser's commands."""
    share = commands.add_parser(
        "share",
        help="copy journals to the shop's database",
        description="The address is read from the environment: HANDSFREE_SHARE_BARN for the shop `barn`.",
    )
    share.add_argument("to", metavar="TO", help="the name of the shop")
    share.add_argument("places", nargs="*", type=Path, default=[Path()], metavar="JOURNAL|FOLDER")
    share.add_argument(
        "--check", action="store_true", help="check all that the shop holds against its hashes"
    )
    share.add_argument("--bench", metavar="NAME", help="of this bench (the machine's name)")
    share.add_argument("--patience", type=float, default=60.0, metavar="SECONDS", help="of trying again (60)")
    share.set_defaults(run=_run("share"))


def _run(name: str) -> Any:
    def run(options: argparse.Namespace) -> int:
        from handsfree.commands import journal_front  # here: other commands need none of it

        answer: int = getattr(journal_front, f"run_{name}")(options)
        return answer

    return run
