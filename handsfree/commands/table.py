"""The log of a session as a table on the screen."""

from __future__ import annotations

from rich import box
from rich.console import Console
from rich.table import Table

from handsfree.length import plain
from handsfree.record import Entry, Session, State


def log_table(session: Session) -> Table:
    """Every entry in the order in which it was logged, voided and corrected ones too."""
    table = Table(box=box.SIMPLE_HEAD, pad_edge=False)
    for name, justify in (("#", "right"), ("check", "left"), ("position", "left"), ("reading", "right")):
        table.add_column(name, justify=justify)  # type: ignore[arg-type]
    for name in ("target", "verdict", "left", "by", "state"):
        table.add_column(name)
    for entry in session.log():
        table.add_row(*_row(session, entry))
    return table


def _row(session: Session, entry: Entry) -> list[str]:
    draft = entry.event.draft
    check = session.plan.check(entry.check)
    target = check.targets.get(check.item(entry.position))
    bound = {"under": "< ", "over": ">= "}.get(draft.bound or "", "")
    value = "" if draft.value is None else f"{bound}{draft.value}"
    if draft.other is not None and draft.value is not None:
        value = f"{plain(draft.value.value)} to {draft.other}"
    if entry.done is not None:
        value = "done" if entry.done else "not done"
    return [
        str(entry.event.seq),
        entry.check,
        entry.position.key,
        value,
        "" if target is None else f"{plain(target.lower.value)} to {target.upper}",
        draft.verdict or "",
        "" if draft.remaining is None else str(draft.remaining),
        draft.heard.source if draft.heard else "",
        "" if entry.state is State.STANDS else entry.state.value,
    ]


def show_log(session: Session, console: Console | None = None) -> None:
    """Print the log."""
    (console or Console()).print(log_table(session))
