"""`handsfree export`: a journal's session as a file for others."""

from __future__ import annotations

import argparse
import sys
from pathlib import Path

from handsfree.commands.options import DONE, add_journal
from handsfree.commands.outputs import write_output
from handsfree.errors import JournalError

FORMS = ("csv", "json", "xlsx", "pdf")
"""Export formats; the last two need additional packages."""

ENTRIES, POSITIONS = "entries", "positions"
ROWS = (ENTRIES, POSITIONS)
"""Rows of the CSV: every entry as logged, or every position with its current entry."""

PAPERS = ("a4", "us-letter")


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Add the arguments of `handsfree export`."""
    add_journal(parser)
    parser.add_argument(
        "--to", choices=FORMS, required=True, help="xlsx is a spreadsheet, pdf the build sheet to print"
    )
    parser.add_argument("--out", type=Path, metavar="FILE", help="standard output when not given")
    parser.add_argument("--paper", choices=PAPERS, default="a4", help="of the build sheet (a4)")
    parser.add_argument(
        "--rows",
        choices=ROWS,
        default=ENTRIES,
        help="of the CSV: every entry (entries), or each position with its last standing reading",
    )
    parser.set_defaults(run=run)


def run(options: argparse.Namespace) -> int:
    """Write a session to a file or to standard output."""
    content = export(options.journal, options.to, paper=options.paper, rows=options.rows)
    write_out(content, options.out, options.journal)
    return DONE


def export(journal: Path, form: str, *, paper: str = "a4", rows: str = ENTRIES) -> bytes:
    """Return a journal's session in one of `FORMS`; the journal is only read.

    Args:
        journal: the journal.
        form: csv, json, xlsx (a spreadsheet) or pdf (the build sheet).
        paper: of the build sheet, "a4" or "us-letter".
        rows: of the CSV, one of `ROWS`.

    Raises:
        HandsfreeError: the journal is missing, empty or unreadable, or a package is missing.
    """
    from handsfree.export import positions_to_csv, to_csv, to_json, to_pdf, to_xlsx
    from handsfree.plan import cautions_for
    from handsfree.session import read

    recorded = read(journal)
    session, events = recorded.session, recorded.events
    match form:
        case "csv":
            return to_csv(session) if rows == ENTRIES else positions_to_csv(session, events)
        case "json":
            return to_json(session, events)
        case "xlsx":
            return to_xlsx(session, events)
        case "pdf":
            cautions = [caution.whole for caution in cautions_for(session.plan)]
            return to_pdf(session, events, cautions=cautions, paper=paper)
        case _:
            raise JournalError(f'there is no form "{form}"; choose one of {", ".join(FORMS)}')


def write_out(content: bytes, out: Path | None, journal: Path) -> None:
    """Write an export to a file, or to standard output.

    Raises:
        HandsfreeError: the file can't be written, or may not be overwritten.
    """
    if out is None:
        sys.stdout.buffer.write(content)
        sys.stdout.buffer.flush()
        return
    write_output(out, content, [journal])
