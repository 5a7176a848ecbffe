"""Lines and tables of plain text on the screen."""

from __future__ import annotations

import sys
from datetime import timedelta
from textwrap import TextWrapper

from rich import box
from rich.console import Console
from rich.table import Table
from rich.text import Text

from handsfree.length import as_given
from handsfree.session import Entry, Fate, Session
from handsfree.visible import one_line

INDENT = 17
"""Columns before the text of a line of the log."""

_PAGE = 120  # width of a file or a pipe
_LONGEST = 200  # letters of a cell


def say_line(console: Console, line: str) -> None:
    """Print lines as they are: no markup, no control characters."""
    for part in line.split("\n"):
        console.print(Text(one_line(part, 2000)), soft_wrap=True)


def say_wrapped(console: Console, line: str) -> None:
    """Print a line of the log; the rest of a long line goes under its text."""
    wrapper = TextWrapper(max(console.width, 2 * INDENT), subsequent_indent=" " * INDENT)
    for part in wrapper.wrap(one_line(line, 2000)):
        console.print(Text(part))


def plain_table(*names: str) -> Table:
    """Return an empty table with these columns."""
    table = Table(box=box.SIMPLE_HEAD, pad_edge=False)
    for name in names:
        table.add_column(name, overflow="fold")  # on a narrow screen nothing is truncated
    return table


def add_row(table: Table, *cells: str) -> None:
    """Add a row of plain text: a name in square brackets is not markup."""
    table.add_row(*(Text(one_line(cell, _LONGEST)) for cell in cells))


def duration(lasted: timedelta) -> str:
    """Format a duration: 45 s, 12 min, 2 h 05 min.

    >>> duration(timedelta(seconds=45)), duration(timedelta(minutes=125))
    ('45 s', '2 h 05 min')
    """
    seconds = round(lasted.total_seconds())
    if seconds < 60:
        return f"{seconds} s"
    hours, minutes = divmod(round(seconds / 60), 60)
    return f"{hours} h {minutes:02} min" if hours else f"{minutes} min"


def log_table(session: Session, *, folded: bool = False) -> Table:
    """Return every entry in logged order, voided and corrected ones too.

    folded: cells are wrapped if the table is wider than the screen.
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
        "" if entry.state is Fate.STANDS else entry.state.value,
    ]


def show_log(session: Session, console: Console | None = None) -> None:
    """Print the log as wide as the screen, or as wide as needed without one."""
    if console is None:
        console = Console() if sys.stdout.isatty() else Console(width=_PAGE)
    table = log_table(session)
    if console.measure(table).minimum > console.width:
        table = log_table(session, folded=True)
    console.print(table)
