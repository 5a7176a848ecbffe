"""Which recogniser listens and whose voice it knows: its options, and the ears that come of them."""

from __future__ import annotations

import argparse
from pathlib import Path
from typing import TYPE_CHECKING

from handsfree.errors import ModelError

if TYPE_CHECKING:
    from handsfree.adapt import Adaptation
    from handsfree.ears import Ears
    from handsfree.plan import Plan


def add_recogniser(parser: argparse.ArgumentParser) -> None:
    """Add the options to a command's parser."""
    parser.add_argument(
        "--recogniser",
        choices=("auto", "phrase", "vosk"),
        default="auto",
        help="auto and phrase: the embedded one; vosk: Vosk, with a model of its own",
    )
    parser.add_argument(
        "--encoder",
        type=Path,
        metavar="FILE",
        help='encoder of the embedded recogniser; "packaged" is the one not adapted to workshops',
    )
    parser.add_argument(
        "--model", type=Path, metavar="DIR", help="folder of a Vosk model, with --recogniser vosk"
    )
    parser.add_argument(
        "--no-adapt", action="store_true", help="leave out what `handsfree adapt` learned of your voice"
    )


def adaptation_of(options: argparse.Namespace) -> Adaptation | None:
    """Give what was learned of the user's voice; None where there is nothing, or it isn't wanted.

    Raises:
        AdaptationError: the file is there and can't be used.
    """
    if options.no_adapt:
        return None
    from handsfree.adapt import load_adaptation

    return load_adaptation()


def ears_of(plan: Plan, options: argparse.Namespace) -> Ears:
    """Make the ears that were asked for.

    Raises:
        AdaptationError: the file with what was learned of the user's voice can't be used.
        ModelError: a Vosk model is named and Vosk isn't asked for.
    """
    from handsfree.ears import Choice, Ears

    if options.model is not None and options.recogniser != Choice.VOSK.value:
        raise ModelError(
            "--model names a Vosk model, and Vosk listens only when it is asked for; add --recogniser vosk"
        )
    adaptation = adaptation_of(options)
    choice = Choice(options.recogniser)
    return Ears(plan, choice, options.model, options.encoder, adaptation=adaptation)
