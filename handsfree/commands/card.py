"""`handsfree card`: a card of phrases and keys, to print."""

from __future__ import annotations

import argparse

from handsfree.commands.options import DONE, add_plan
from handsfree.visible import for_terminal


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Add the arguments of `handsfree card`."""
    add_plan(parser)
    parser.set_defaults(run=run)


def run(options: argparse.Namespace) -> int:
    """Print the card of a plan."""
    from handsfree.planfile import load_plan
    from handsfree.show import phrase_card

    print(for_terminal(phrase_card(load_plan(options.plan))))
    return DONE
