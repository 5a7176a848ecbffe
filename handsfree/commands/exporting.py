"""`handsfree export`: a journal's session as a file for others."""

from __future__ import annotations

import sys
from pathlib import Path

from handsfree.errors import JournalError
from handsfree.plan import parse_plan
from handsfree.record import Journal, fold, plan_text, to_csv, to_json


def export(journal: Path, form: str) -> bytes:
    """Give a journal's session in a form: csv or json.

    Raises:
        JournalError: the journal is missing, empty, or can't be read.
    """
    if not journal.exists():
        raise JournalError(f'journal "{journal}" isn\'t there; name the file that --journal made')
    with Journal.open(journal) as opened:
        events = opened.events()
    session = fold(parse_plan(plan_text(events), f"{journal} (its plan)"), events)
    return to_csv(session) if form == "csv" else to_json(session, events)


def write_out(content: bytes, out: Path | None) -> None:
    """Write to a file, or to standard output.

    Raises:
        JournalError: the file can't be written.
    """
    if out is None:
        sys.stdout.buffer.write(content)
        return
    try:
        out.write_bytes(content)
    except OSError as error:
        raise JournalError(
            f'"{out}" can\'t be written: {error.strerror or error}; name another file'
        ) from error
