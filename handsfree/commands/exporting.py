"""`handsfree export`: a journal's session as a file for others."""

from __future__ import annotations

import sys
from pathlib import Path

from handsfree.commands.export_options import ENTRIES, FORMS
from handsfree.commands.outputs import write_output
from handsfree.errors import JournalError
from handsfree.export import positions_to_csv, to_csv, to_json, to_pdf, to_xlsx
from handsfree.plan import cautions_for
from handsfree.session import read


def export(journal: Path, form: str, *, paper: str = "a4", rows: str = ENTRIES) -> bytes:
    """Give a journal's session in one of `FORMS`; the journal is only read.

    Args:
        journal: the journal.
        form: csv, json, xlsx (a spreadsheet) or pdf (the build sheet).
        paper: of the build sheet, "a4" or "us-letter".
        rows: of the CSV, one of `ROWS`.

    Raises:
        HandsfreeError: the journal is missing, empty or can't be read, or a package is missing.
    """
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
    """Write what was made of a journal to a file, or to standard output.

    Raises:
        HandsfreeError: the file can't be written, or may not be written over.
    """
    if out is None:
        sys.stdout.buffer.write(content)
        sys.stdout.buffer.flush()
        return
    write_output(out, content, [journal])
