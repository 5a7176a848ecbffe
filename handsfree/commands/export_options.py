"""What may be typed after `handsfree export`."""

from __future__ import annotations

import argparse
from pathlib import Path
from typing import Any

FORMS = ("csv", "json", "xlsx", "pdf")
"""The forms that a session can be written in; the last two need packages of their own."""

ENTRIES, POSITIONS = "entries", "positions"
ROWS = (ENTRIES, POSITIONS)
"""What a row of the CSV is: every entry as it was logged, or every position with what stands there."""

PAPERS = ("a4", "us-letter")


def add_export_command(commands: Any) -> None:  # argparse gives the type of its subparsers no public name
    """Add `export` to the parser's commands."""
    export = commands.add_parser(
        "export", help="write a journal's session as CSV, JSON, spreadsheet or build sheet"
    )
    export.add_argument("journal", type=Path, metavar="JOURNAL")
    export.add_argument(
        "--to", choices=FORMS, required=True, help="xlsx is a spreadsheet, pdf the build sheet to print"
    )
    export.add_argument("--out", type=Path, metavar="FILE", help="standard output when not given")
    export.add_argument("--paper", choices=PAPERS, default="a4", help="of the build sheet (a4)")
    export.add_argument(
        "--rows",
        choices=ROWS,
        default=ENTRIES,
        help="of the CSV: every entry (entries), or each position with its last standing reading",
    )
    export.set_defaults(run=_run)


def _run(options: argparse.Namespace) -> int:
    from handsfree.commands.exporting import export, write_out  # here: other commands need none of it

    content = export(options.journal, options.to, paper=options.paper, rows=options.rows)
    write_out(content, options.out, options.journal)
    return 0
