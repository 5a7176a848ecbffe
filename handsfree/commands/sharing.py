"""`handsfree share`: copy journals to the shop's database, by hand or by cron."""

from __future__ import annotations

import os
import platform
from collections.abc import Mapping, Sequence
from pathlib import Path

from rich.console import Console
from rich.text import Text

from handsfree.export import find
from handsfree.journal import Shared, Shop, address, share
from handsfree.visible import one_line

DONE, TROUBLE = 0, 1


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
    """Share journals with a shop, one line each; gives 0, or 1 if any had trouble.

    Args:
        shop: which shop; its address is read from the environment (see `handsfree.journal.share.address`).
        places: journals and folders.
        console: where to.
        bench: the name of this bench; the machine's own without it.
        check: whether to check afterwards everything that the shop holds against its hashes.
        patience_s: how long to go on trying when the shop can't be reached, in seconds.
        environment: where the address is.

    Raises:
        ShareError: there is no address, or it isn't one.
        JournalError: a named place isn't there.
    """
    opened = Shop(address(shop, environment), patience_s=patience_s)
    try:
        outcomes = share(opened, list(find(places)), bench=bench or platform.node() or "a bench")
        for outcome in outcomes:
            _say(console, _line(outcome))
        broken = opened.differing() if check else []
        for sentence in broken:
            _say(console, sentence)
        if check and not broken:
            _say(console, f"All that {opened.name} holds is as it was logged.")
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


def _say(console: Console, line: str) -> None:
    console.print(Text(one_line(line, 2000)), soft_wrap=True)
