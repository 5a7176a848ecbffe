"""`handsfree export`: a journal's session as a file for others."""

from __future__ import annotations

import argparse
import sys
from pathlib import Path

from handsfree.commands.options import DONE, add_journal
from handsfree.commands.outputs import write_output

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
    from handsfree.export import exported

    content = exported(options.journal, options.to, paper=options.paper, rows=options.rows)
    write_out(content, options.out, options.journal)
    return DONE


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
