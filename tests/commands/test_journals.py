"""What the journal commands print."""

import io

import pypdf
import pytest
from rich.console import Console

from handsfree.commands import journals as commands
from handsfree.errors import HandsfreeError, JournalError
from handsfree.journal import Draft, Journal, Kind
from tests.support import journals


@pytest.fixture
def console():
    return Console(file=io.StringIO(), width=150, no_color=True)


def said(console):
    return console.file.getvalue()


@pytest.fixture
def folder(tmp_path):
    journals.story_at(tmp_path / "a.journal")
    with Journal.open(tmp_path / "b.journal", clock=journals.clock(2)) as journal:
        journals.log_many(journal, journals.plan(engine="Heron 8"), 60, who="[red]Marten\x1b[2J \u202e8")
    return tmp_path


def test_list_names_engine_day_progress_and_verdicts(folder, console):
    commands.list_journals([folder], console)
    text = said(console)
    assert "a.journal" in text
    assert "5 good, 1 open, 1 over, 1 short" in text
    assert "12 of 12" in text
    assert "finished" in text


def test_names_are_printed_as_they_are_without_markup_or_control_signs(folder, console):
    commands.list_journals([folder], console)
    text = said(console)
    assert r"[red]Marten\x1b[2J \u202e8" in text
    assert "\x1b" not in text
    assert "\u202e" not in text


def test_a_list_of_nothing_says_so(tmp_path, console):
    commands.list_journals([tmp_path], console)
    assert said(console) == "No journals found.\n"


def test_show_has_results_work_and_hash_and_with_log_every_entry(folder, console):
    commands.show(folder / "a.journal", console, log=True)
    text = said(console)
    for wanted in (
        "Bench twin",
        "by J. Marten",
        "18 to 19.5 thou",
        "under 17 thou",
        "(voided)",
        "(corrected)",
        "corrects no. ",
        'heard "',
        "fit -0.12",
    ):
        assert wanted in text, wanted
    with Journal.open(folder / "a.journal", read_only=True) as journal:
        assert journal.head in text


def test_compare_shows_both_and_the_change(folder, console):
    commands.compare(folder / "a.journal", folder / "b.journal", console)
    text = said(console)
    assert "two different engines" in text
    assert "change" in text
    before, after = (commands.read(folder / f"{name}.journal") for name in "ab")
    first = commands.pairs_of(before, after)[0]
    assert f"{first.before.text}" in text
    assert str(first.change) in text


def test_statistics_print_a_table_bars_and_the_caution_and_draw_a_plot(folder, console):
    commands.statistics([folder], console, plot_to=folder / "plot.pdf")
    text = said(console)
    for wanted in (
        "ring gaps, 18 to 19.5 thou",
        "Cpk (95%)",
        "####",
        " L ",
        " U",
        "suppose a steady process",
    ):
        assert wanted in text, wanted
    printed = pypdf.PdfReader(folder / "plot.pdf").pages[0].extract_text()
    assert "ring gaps, 18 to 19.5 thou" in printed
    assert "Cpk" in printed
    commands.statistics([folder], console, plot_to=folder / "plot.svg")
    assert (folder / "plot.svg").read_text().startswith("<svg")


def test_statistics_count_a_copied_journal_once(folder, console):
    commands.statistics([folder], console)
    before = said(console).replace("not read", "")
    (folder / "c.journal").write_bytes((folder / "b.journal").read_bytes())
    again = Console(file=io.StringIO(), width=150, no_color=True)
    commands.statistics([folder], again)
    told = (
        f"not read: {folder / 'c.journal'} is a copy of {folder / 'b.journal'}, which is as long or longer."
    )
    assert said(again).replace(told + "\n", "") == before


@pytest.mark.parametrize("confidence", [0, 1, -1, 95])
def test_a_confidence_that_is_none_is_refused(folder, console, confidence):
    with pytest.raises(HandsfreeError, match="between 0 and 1"):
        commands.statistics([folder], console, confidence=confidence)


def test_statistics_of_nothing_say_so(folder, console):
    with pytest.raises(JournalError, match="nothing to reckon with"):
        commands.statistics([folder], console, check="no such check")


def test_verify_gives_0_for_a_whole_journal_and_1_for_an_altered_one(folder, console):
    import sqlite3

    path = folder / "a.journal"
    assert commands.verify(path, console) == 0
    assert "all 35 events are as they were logged" in said(console)
    connection = sqlite3.connect(path, isolation_level=None)
    connection.execute("DROP TRIGGER event_keeps")
    connection.execute("UPDATE event SET value = '1'")
    connection.close()
    assert commands.verify(path, console) == 1
    text = said(console)
    assert "Event 2 was altered" in text
    assert "and 16 more." in text
    assert "not as they were logged" in text


def test_verify_tells_of_events_that_the_journal_has_not_taken_yet(folder, console):
    import sqlite3

    path = folder / "a.journal"
    with Journal.open(path) as journal:
        other = sqlite3.connect(path, isolation_level=None)
        other.execute("BEGIN IMMEDIATE")
        journal.append(Draft(Kind.STAND_BY))
        assert journal.unsaved == 1
        assert commands.verify(path, console) == 0
        other.close()
    assert "1 event more is kept elsewhere" in said(console)
    commands.verify(path, console)
    assert said(console).count("kept elsewhere until") == 1
