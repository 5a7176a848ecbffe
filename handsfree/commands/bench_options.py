"""What may be chosen at `handsfree bench`, apart from the rest because it is much."""

from __future__ import annotations

import argparse
from pathlib import Path

from handsfree.commands.kept_options import add_kept_options
from handsfree.commands.numbers import fraction, rate

WEB = "127.0.0.1:8123"
"""Where `--web` serves when nothing else is said: this machine only."""


def add_bench_options(parser: argparse.ArgumentParser) -> None:
    """Add the options of a live session to a parser."""
    parser.add_argument(
        "--journal", type=Path, metavar="FILE", help="the log (beside the plan: PLAN.journal)"
    )
    add_kept_options(parser)
    parser.add_argument("--device", metavar="NAME", help="microphone: number or part of its name")
    parser.add_argument("--output", metavar="NAME", help="loudspeaker: number or part of its name")
    parser.add_argument("--plain", action="store_true", help="lines of text instead of the display")
    parser.add_argument(
        "--web",
        nargs="?",
        const=WEB,
        metavar="HOST:PORT",
        help=f"show the display in a browser ({WEB}, this machine only, if nothing else is said)",
    )
    parser.add_argument("--headset", action="store_true", help="listen while speaking; speech stops it")
    parser.add_argument("--silent", action="store_true", help="no voice and no tones")
    parser.add_argument("--no-microphone", action="store_true", help="keys alone")
    parser.add_argument("--answers", choices=("terse", "normal", "full"), default="normal")
    parser.add_argument(
        "--rate",
        type=rate,
        metavar="WPM",
        help="words a minute of the voice (165, in terse answers 180); kept for the next sessions",
    )
    parser.add_argument("--voice", metavar="NAME", help="one of the speech engine's voices")
    parser.add_argument(
        "--volume",
        type=fraction,
        metavar="0..1",
        help="no louder than this (0.8); kept for the next sessions",
    )
    parser.add_argument("--timings", type=Path, metavar="FILE", help="write where each answer's time went")
