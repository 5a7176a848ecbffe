"""What may be chosen about what a session keeps, the same for recordings and at the bench."""

from __future__ import annotations

import argparse
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from handsfree.journal import Journal, Sounds
    from handsfree.session import ChangedPlan


def add_kept_options(parser: argparse.ArgumentParser) -> None:
    """Add who measures, and whether sound is kept."""
    parser.add_argument("--who", metavar="NAME", help="who measures, for the build sheet")
    parser.add_argument(
        "--changed-plan",
        choices=("keep", "judge"),
        help="go on though the plan was edited since the journal was opened: keep its verdicts, or judge "
        "what stands anew",
    )
    parser.add_argument(
        "--no-sounds", action="store_true", help="keep no sound of what was said beside the journal"
    )


def facts_of(options: argparse.Namespace) -> dict[str, str]:
    """Give what the journal is to be opened with besides the plan."""
    return {"who": options.who} if options.who else {}


def changed_plan_of(options: argparse.Namespace) -> ChangedPlan | None:
    """Give how to go on where the plan was edited since; None where nothing was said of it."""
    from handsfree.session import ChangedPlan

    return ChangedPlan(options.changed_plan) if options.changed_plan else None


def sounds_of(journal: Journal, options: argparse.Namespace) -> Sounds | None:
    """Give where sound is kept: beside the journal; None where there is no file or it is switched off."""
    from handsfree.journal import Sounds

    if journal.path is None or options.no_sounds:
        return None
    return Sounds.beside(journal.path)
