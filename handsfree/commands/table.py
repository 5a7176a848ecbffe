"""The log of a session as a table on the screen."""

from __future__ import annotations

import sys

from rich import box
from rich.console import Console
from rich.table import Table

from handsfree.length import as_given
from handsfree.session import Entry, Session, State

_PAGE = 120  # columns of a file or a pipe


def log_table(session: Session, *, folded: bool = False) -> Table:
    """Every entry in the order in which it was logged, voided and corrected ones too.

    folded: cells take as many lines as they need, where the table is wider than the screen.
    """
    table = Table(box=box.SIMPLE_HEAD, pad_edge=False)
    several = len(session.plan.checks) > 1
    names = ["#", *(["check"] if several else []), "position", "reading", "target", "verdict", "left"]
    for name in [*names, "by", "state"]:
        table.add_column(
            name,
            justify="right" if name in ("#", "reading", "left") else "left",
            no_wrap=not folded,
            overflow="fold",
        )
    for entry in session.log():
        number, check, *rest = _row(session, entry)
        table.add_row(number, *([check] if several else []), *rest)
    return table


def _row(session: Session, entry: Entry) -> list[str]:
    draft = entry.event.draft
    check = session.plan.check(entry.check)
    target = check.targets.get(check.item(entry.position))
    bound = {"under": "< ", "over": ">= "}.get(draft.bound or "", "")
    value = "" if draft.value is None else f"{bound}{draft.value}"
    if draft.other is not None and draft.value is not None:
        value = f"{as_given(draft.value.value)} to {draft.other}"
    if entry.done is not None:
        value = "done" if entry.done else "not done"
    return [
        str(entry.event.seq),
        entry.check,
        " ".join(label for _, label in entry.position.labels),
        value,
        "" if target is None else f"{as_given(target.lower.value)} to {target.upper}",
        draft.verdict or "",
        "" if draft.remaining is None else str(draft.remaining),
        draft.heard.source if draft.heard else "",
        "" if entry.state is State.STANDS else entry.state.value,
    ]


def show_log(session: Session, console: Console | None = None) -> None:
    """Print the log, as wide as the screen, or as it needs where there is none."""
    if console is None:
        console = Console() if sys.stdout.isatty() else Console(width=_PAGE)
    table = log_table(session)
    if console.measure(table).minimum > console.width:
        table = log_table(session, folded=True)
    console.print(table)
