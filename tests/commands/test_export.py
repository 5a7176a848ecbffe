"""What `handsfree export` writes."""

import openpyxl
import pypdf
import pytest

from handsfree.commands.export import FORMS
from handsfree.errors import JournalError
from handsfree.export import exported as export
from tests.support import journals


@pytest.fixture
def path(tmp_path):
    journals.story_at(tmp_path / "a.journal")
    return tmp_path / "a.journal"


def test_every_form_is_exported_and_the_journal_left_as_it_is(path):
    before = path.read_bytes()
    made = {form: export(path, form) for form in FORMS}
    assert made["csv"].startswith(b"number,check,cylinder,ring,value,unit")
    assert made["json"].startswith(b'{\n"form": "handsfree session"')
    (path.parent / "a.xlsx").write_bytes(made["xlsx"])
    assert openpyxl.load_workbook(path.parent / "a.xlsx").sheetnames == ["Results", "Log", "About"]
    (path.parent / "a.pdf").write_bytes(made["pdf"])
    text = pypdf.PdfReader(path.parent / "a.pdf").pages[0].extract_text()
    assert "eye protection" in text
    assert path.read_bytes() == before
    assert made == {form: export(path, form) for form in FORMS}


def test_the_sheet_fits_the_paper_that_is_asked_for(path):
    (path.parent / "a.pdf").write_bytes(export(path, "pdf", paper="us-letter"))
    box = pypdf.PdfReader(path.parent / "a.pdf").pages[0].mediabox
    assert (float(box.width), float(box.height)) == (612.0, 792.0)


def test_exporting_nothing_says_so(tmp_path):
    with pytest.raises(JournalError, match="There is no journal"):
        export(tmp_path / "none", "csv")
