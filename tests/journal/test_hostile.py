"""Names that are meant to do harm are only names, in every way out."""

import csv
import io
import json
from dataclasses import replace

import openpyxl
import pypdf
import pytest
from rich.console import Console

from handsfree.commands import journal as commands
from handsfree.export import to_csv, to_json, to_pdf, to_xlsx
from handsfree.journal import Journal
from handsfree.session import fold
from tests.support import journals

NAMES = {
    "quotes": "'\"`\u2019\u201c",
    "newlines": "one\ntwo\r\nthree\u2028four\x0bfive",
    "path parts": "../../etc/passwd\\..\\C:\\x/~/.ssh",
    "right to left": "\u202egnp.exe\u202c \u2067abc\u2069 \u05e9\u05dc\u05d5\u05dd",
    "formula": "=HYPERLINK(\"x\"&A1)+cmd|' /C calc'!A0",
    "plus": "+1",
    "at": "@SUM(1)",
    "long": "W" * 10_240,
    "very long": "word " * 8_000,
    "markup": "#panic() $x$ *b* [bold]x[/bold] <script>alert(1)</script> %s {0} {{}}",
    "control": "\x00\x07\x1b[31m\x1b]0;title\x07\x7f\x9b2J",
    "surrogate": "\udc80\ud800",
    "nothing": "",
}


@pytest.fixture(params=NAMES.values(), ids=NAMES.keys())
def hostile(request):
    """A session whose every name is hostile."""
    name = request.param
    plan = journals.plan(2)
    plan = replace(plan, name=name, engine=replace(plan.engine, name=name))
    with Journal.in_memory(clock=journals.clock()) as journal:
        journals.log_many(journal, plan, 4, who=name)
        journals.measure(journal, plan, plan.checks[0].positions[0], "18", note=name, feel=name)
        events = journal.events()
    return name, fold(plan, events), events


def test_csv_holds_it_as_text(hostile):
    _, session, events = hostile
    *_, row = csv.DictReader(io.StringIO(to_csv(session).decode(), newline=""), strict=True)
    note = events[-1].draft.note or ""
    assert row["note"] == ("'" + note if note.lstrip()[:1] in ("=", "+", "-", "@") and note else note)


def test_json_holds_it_exactly(hostile):
    _, session, events = hostile
    held = json.loads(to_json(session, events))
    assert held["events"][-1].get("note") == events[-1].draft.note


def test_a_workbook_holds_it_as_text_or_says_that_it_was_cut(hostile):
    name, session, events = hostile
    book = openpyxl.load_workbook(io.BytesIO(to_xlsx(session, events)))
    cells = [cell for sheet in book for row in sheet.iter_rows() for cell in row]
    assert not [cell for cell in cells if cell.data_type in ("f", "e")]
    if len(name) > 32_767:
        assert any(str(cell.value).endswith("(longer than a cell; whole in CSV and JSON)") for cell in cells)


def test_a_sheet_is_printed(hostile):
    _, session, events = hostile
    printed = pypdf.PdfReader(io.BytesIO(to_pdf(session, events)))
    assert 1 <= len(printed.pages) <= 3
    text = printed.pages[0].extract_text()
    assert "18 to 19.5 thou" in text
    assert not set(text) & set("\u202e\u202c\u2067\u2069\x1b\x07\x00")


def test_the_screen_is_shown_no_control_signs(tmp_path, hostile):
    name, _, _ = hostile
    plan = journals.plan(2)
    with Journal.open(tmp_path / "j", clock=journals.clock()) as journal:
        journals.log_many(journal, plan, 4, who=name)
        journals.measure(journal, plan, plan.checks[0].positions[0], "18", note=name, feel=name)
    console = Console(file=io.StringIO(), width=120, no_color=True)
    commands.list_journals([tmp_path], console)
    commands.show(tmp_path / "j", console, log=True)
    said = console.file.getvalue()
    assert not set(said) & set("\u202e\u202c\u2067\u2069\x1b\x07\x00\x9b")
    assert "Bench twin" in said
