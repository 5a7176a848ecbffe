"""What may be typed after `handsfree score`, `rehearse` and `adapt`."""

from __future__ import annotations

import argparse
from pathlib import Path
from typing import Any

from handsfree.commands.numbers import count, decibels, seed
from handsfree.commands.recogniser_options import add_recogniser

PHRASES = 20
"""Read aloud at a rehearsal when nothing else is said."""


def add_score_command(commands: Any) -> None:  # argparse gives the type of its subparsers no public name
    """Add `score` to the parser's commands."""
    score = commands.add_parser(
        "score",
        help="how well a folder of recordings is understood",
        description="The folder has a manifest.csv with the columns file, voice, kind (reading, bare, word "
        "or chatter), text, cylinder, ring, value and unit. Without --plan the plan.toml in the folder "
        "is taken, else one is made from the cylinders and rings that the manifest names.",
    )
    score.add_argument("folder", type=Path, metavar="DIR")
    score.add_argument("--plan", type=Path, metavar="PLAN", help="the plan that the recordings were made for")
    score.add_argument("--check", metavar="NAME", help="the check of the plan to listen for (its first)")
    score.add_argument(
        "--noise", action="append", metavar="KIND", help="put this noise under them; may be given repeatedly"
    )
    score.add_argument(
        "--snr", action="append", type=decibels, metavar="DB", help="speech this far above the noise; so too"
    )
    score.add_argument("--voice", metavar="NAME", help="only this voice of the manifest")
    score.add_argument("--every", type=count, default=1, metavar="N", help="only one recording in N")
    score.add_argument("--seed", type=seed, default=1, metavar="N", help="changes the noise (1)")
    add_recogniser(score)
    score.add_argument("--json", action="store_true", help="one object")
    score.set_defaults(run=_run("scoring", "run_score"))


def add_rehearse_command(commands: Any) -> None:
    """Add `rehearse` to the parser's commands."""
    rehearse = commands.add_parser(
        "rehearse",
        help="read phrases aloud, to see how well you are understood",
        description="Each phrase ends by itself; Ctrl-C keeps what was recorded. Nothing leaves the machine.",
    )
    rehearse.add_argument("plan", type=Path, metavar="PLAN")
    rehearse.add_argument("--check", metavar="NAME", help="the check of the plan to rehearse (its first)")
    rehearse.add_argument(
        "--from",
        type=Path,
        dest="source",
        metavar="DIR",
        help="recordings with a manifest.csv, not a microphone",
    )
    rehearse.add_argument(
        "--to",
        type=Path,
        dest="folder",
        metavar="DIR",
        help="keep them here (a new folder in the user's data)",
    )
    rehearse.add_argument(
        "--count",
        type=count,
        metavar="N",
        help=f"phrases to read ({PHRASES}); with --from the most to take (all)",
    )
    rehearse.add_argument("--seed", type=seed, default=1, metavar="N", help="other phrases (1)")
    rehearse.add_argument(
        "--voice", metavar="NAME", help="whose they are (me); with --from only this voice of its manifest"
    )
    rehearse.add_argument("--device", metavar="NAME", help="microphone: number or part of its name")
    add_recogniser(rehearse)
    rehearse.set_defaults(run=_run("rehearsing", "run_rehearse"))


def add_adapt_command(commands: Any) -> None:
    """Add `adapt` to the parser's commands."""
    adapt = commands.add_parser(
        "adapt",
        help="learn from your rehearsals how you speak",
        description="Learns from what `handsfree rehearse` kept. Nothing of it leaves this machine.",
    )
    adapt.add_argument(
        "--from",
        action="append",
        type=Path,
        dest="sources",
        metavar="DIR",
        help="recordings with a manifest.csv; may be given repeatedly (all rehearsals)",
    )
    adapt.add_argument("--voice", metavar="NAME", help="only this voice, where there are several")
    adapt.add_argument(
        "--encoder", type=Path, metavar="FILE", help='encoder of the embedded recogniser, or "packaged"'
    )
    what = adapt.add_mutually_exclusive_group()
    what.add_argument("--show", action="store_true", help="show what was learned, and where it is kept")
    what.add_argument("--undo", action="store_true", help="take it away")
    adapt.set_defaults(run=_run("adapting", "run_adapt"))


def _run(module: str, name: str) -> Any:
    def run(options: argparse.Namespace) -> int:
        from importlib import import_module  # here: other commands need none of it

        answer: int = getattr(import_module(f"handsfree.commands.{module}"), name)(options)
        return answer

    return run
