"""From what was typed after `handsfree journal` and `handsfree share` to what is done."""

from __future__ import annotations

import argparse

from rich.console import Console

from handsfree.commands import journals, playing
from handsfree.devices import SoundPlayer


def run_list_journals(options: argparse.Namespace) -> int:
    """List journals."""
    journals.list_journals(
        options.places, Console(), engine=options.engine, since=options.since, until=options.until
    )
    return 0


def run_show(options: argparse.Namespace) -> int:
    """Show one."""
    journals.show(options.journal, Console(), log=options.log)
    return 0


def run_compare(options: argparse.Namespace) -> int:
    """Compare two."""
    journals.compare(options.before, options.after, Console())
    return 0


def run_stats(options: argparse.Namespace) -> int:
    """Reckon over many."""
    journals.statistics(
        options.places,
        Console(),
        check=options.check,
        engine=options.engine,
        confidence=options.confidence,
        plot_to=options.plot,
    )
    return 0


def run_verify(options: argparse.Namespace) -> int:
    """Verify one: 0 if it holds, 1 if not."""
    return journals.verify(options.journal, Console(), expected=options.hash)


def run_play(options: argparse.Namespace) -> int:
    """Play a sound, or save it."""
    player = None if options.out else SoundPlayer()
    try:
        playing.play(options.journal, options.number, Console(), player, out=options.out)
    finally:
        if player is not None:
            player.close()
    return 0


def run_share(options: argparse.Namespace) -> int:
    """Share: 0, or 1 if any journal had trouble."""
    from handsfree.commands.sharing import share_journals

    return share_journals(
        options.to,
        options.places,
        Console(),
        bench=options.bench,
        check=options.check,
        patience_s=options.patience,
    )
