"""`handsfree share`: copy journals to the shop's database, by hand or by cron."""

from __future__ import annotations

import argparse
import os
import platform
from collections.abc import Mapping, Sequence
from pathlib import Path

from rich.console import Console

from handsfree.commands.options import DONE, add_places
from handsfree.commands.printing import say_line
from handsfree.export import find
from handsfree.journal import Shared, Shop, address, share

TROUBLE = 1


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Add the arguments of `handsfree share`."""
    parser.description = "The address is read from the environment: HANDSFREE_SHARE_BARN for the shop `barn`."
    parser.add_argument("to", metavar="TO", help="the name of the shop")
    add_places(parser)
    parser.add_argument(
        "--check", action="store_true", help="check all that the shop holds against its hashes"
    )
    parser.add_argument("--bench", metavar="NAME", help="of this bench (the machine's name)")
    parser.add_argument(
        "--patience", type=float, default=60.0, metavar="SECONDS", help="of trying again (60)"
    )
    parser.set_defaults(run=run)


def run(options: argparse.Namespace) -> int:
    """Share journals: 0, or 1 if any had trouble."""
    return share_journals(
        options.to,
        options.places,
        Console(),
        bench=options.bench,
        check=options.check,
        patience_s=options.patience,
    )


def share_journals(
    shop: str | None,
    places: Sequence[Path],
    console: Console,
    *,
    bench: str | None = None,
    check: bool = False,
    patience_s: float = 60.0,
    environment: Mapping[str, str] = os.environ,
) -> int:
    """Share journals with a shop and print a line for each; return 0, or 1 if any had trouble.

    Args:
        shop: the shop; its address is read from the environment (see `handsfree.journal.share.address`).
        places: journals and folders.
        console: the output.
        bench: the name of this bench; the machine's own name by default.
        check: afterwards check everything in the shop's database against its hashes.
        patience_s: how long to retry if the shop can't be reached, in seconds.
        environment: the environment with the address.

    Raises:
        ShareError: the address is missing or invalid.
        JournalError: a file or folder doesn't exist.
    """
    opened = Shop(address(shop, environment), patience_s=patience_s)
    try:
        outcomes = share(opened, list(find(places)), station=bench or platform.node() or "a bench")
        for outcome in outcomes:
            say_line(console, _line(outcome))
        broken = opened.differing() if check else []
        for sentence in broken:
            say_line(console, sentence)
        if check and not broken:
            say_line(console, f"All that {opened.name} holds is as it was logged.")
    finally:
        opened.close()
    return TROUBLE if broken or any(outcome.trouble for outcome in outcomes) else DONE


def _line(outcome: Shared) -> str:
    if outcome.trouble:
        return f"{outcome.path.name}: {outcome.trouble}"
    if not outcome.total:
        return f"{outcome.path.name}: nothing was logged in it"
    if not outcome.sent:
        return f"{outcome.path.name}: all {outcome.total} events were there already"
    return f"{outcome.path.name}: {outcome.sent} events sent, {outcome.total} are there now"
