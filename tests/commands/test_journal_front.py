"""The journal commands as they are typed."""

import argparse
from collections import Counter

import openpyxl
import pypdf
import pytest

from handsfree.commands.exporting import FORMS, export
from handsfree.commands.journal_options import add_journal_command, add_share_command
from handsfree.errors import JournalError, ShareError
from tests.support import journals


def typed(*words):
    parser = argparse.ArgumentParser()
    commands = parser.add_subparsers(required=True)
    add_journal_command(commands)
    add_share_command(commands)
    options = parser.parse_args([str(word) for word in words])
    return options.run(options)


@pytest.fixture
def path(tmp_path, monkeypatch):
    monkeypatch.setenv("COLUMNS", "120")
    journals.story_at(tmp_path / "a.journal")
    return tmp_path / "a.journal"


def test_list_takes_files_and_folders_and_days(path, capsys, monkeypatch):
    assert typed("journal", "list", path.parent, "--engine", "twin", "--since", "2026-11-25") == 0
    assert "a.journal" in capsys.readouterr().out
    assert typed("journal", "list", path, "--until", "2026-11-24") == 0
    assert "No journals found." in capsys.readouterr().out
    monkeypatch.chdir(path.parent)
    assert typed("journal", "list") == 0
    assert "a.journal" in capsys.readouterr().out


def test_a_day_that_is_none_is_refused(path, capsys):
    with pytest.raises(SystemExit) as ended:
        typed("journal", "list", path, "--since", "yesterday")
    assert ended.value.code == 2
    assert "--since" in capsys.readouterr().err


def test_show_compare_and_stats(path, capsys):
    assert typed("journal", "show", path, "--log") == 0
    assert typed("journal", "compare", path, path) == 0
    assert typed("journal", "stats", path, "--check", "ring gaps", "--plot", path.with_suffix(".svg")) == 0
    said = capsys.readouterr().out
    for words in ("under 17 thou", "change", "0 thou", "Cpk"):
        assert words in said
    assert path.with_suffix(".svg").read_text().startswith("<svg")


def test_verify_answers_by_its_status(path, capsys):
    assert typed("journal", "verify", path) == 0
    assert typed("journal", "verify", path, "--hash", "f" * 64) == 1
    assert "isn't in the journal" in capsys.readouterr().out


def test_play_without_a_sound_says_so(path):
    with pytest.raises(JournalError, match="No sound was kept of event 2"):
        typed("journal", "play", path, 2, "--out", path.with_suffix(".flac"))


def test_share_without_an_address_says_which_variable_to_set(path, monkeypatch):
    monkeypatch.delenv("HANDSFREE_SHARE_BARN", raising=False)
    with pytest.raises(ShareError, match="set HANDSFREE_SHARE_BARN in the environment"):
        typed("share", "barn", path)


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


def test_on_a_narrow_screen_nothing_is_cut_off(path, capsys, monkeypatch):
    letters = []
    for width in ("80", "400"):
        monkeypatch.setenv("COLUMNS", width)
        typed("journal", "show", path, "--log")
        letters.append(Counter("".join(capsys.readouterr().out.replace("\u2500", "").split())))
    assert letters[0] == letters[1]
