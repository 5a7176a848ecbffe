"""`handsfree models`: list the recogniser models, and download the one for Vosk."""

from __future__ import annotations

import argparse

from handsfree.commands.options import DONE
from handsfree.visible import for_terminal


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Add the arguments of `handsfree models`."""
    parser.add_argument("action", choices=("list", "get"), help="list all; get the Vosk one")
    parser.set_defaults(run=run)


def run(options: argparse.Namespace) -> int:
    """List the models, or download the one for Vosk."""
    from handsfree.hear import models

    if options.action == "list":
        print(for_terminal(models.listing()))
    else:
        print(for_terminal(f"The model is in {models.get_model()}"))
    return DONE
