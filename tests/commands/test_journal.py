"""What the journal commands print, and how they are typed."""

import io
import re
from collections import Counter

import numpy as np
import pypdf
import pytest
from rich.console import Console
from scipy.stats import binomtest

from handsfree.cli import parser
from handsfree.commands import journal as commands
from handsfree.commands.journal_stats import statistics
from handsfree.errors import HandsfreeError, JournalError, ShareError
from handsfree.journal import Draft, Heard, Journal, Kind, Sounds
from handsfree.recordings.noise import mix
from handsfree.session import opening
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
    statistics([folder], console, plot_to=folder / "plot.pdf")
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
    statistics([folder], console, plot_to=folder / "plot.svg")
    assert (folder / "plot.svg").read_text().startswith("<svg")


def test_statistics_count_a_copied_journal_once(folder, console):
    statistics([folder], console)
    before = said(console).replace("not read", "")
    (folder / "c.journal").write_bytes((folder / "b.journal").read_bytes())
    again = Console(file=io.StringIO(), width=150, no_color=True)
    statistics([folder], again)
    told = (
        f"not read: {folder / 'c.journal'} is a copy of {folder / 'b.journal'}, which is as long or longer."
    )
    assert said(again).replace(told + "\n", "") == before


def heard_table(console):
    """The rows of the table of what was heard, by their first cell."""
    lines = said(console).split("Heard by voice\n")[1].split("\n\n")[0].splitlines()
    rows = [re.split(r" {2,}", line.strip(), maxsplit=1) for line in lines[1:]]
    return {row[0]: " ".join("".join(row[1:]).split()) for row in rows}


def test_statistics_say_how_often_what_was_heard_stood_by_person_check_and_noise(tmp_path, console):
    noise = np.random.default_rng(1)
    with Journal.open(tmp_path / "w.journal") as journal:
        journal.append(opening(journals.plan(), who="A. Fitter"))
        sounds = Sounds.beside(tmp_path / "w.journal")
        places = journals.plan().checks[0].positions

        def say(number, snr_db, **more):
            tone = np.sin(np.arange(16_000) * 0.3) * (np.arange(16_000) > 6000)
            samples = mix((8000 * tone).astype(np.int16), noise.normal(0, 1, 16_000), snr_db)
            heard = Heard("voice", "eighteen", sound=sounds.save(samples))
            return journals.measure(journal, journals.plan(), places[number], "18", heard=heard, **more)

        first = [say(number, 25) for number in range(4)]
        say(0, 5, kind=Kind.CORRECTION, refers_to=first[0].id)
        journal.append(Draft(Kind.VOID, refers_to=first[1].id))
        journal.append(Draft(Kind.RESUMED, data={"who": "B. Turner"}))
        asked = {"about": "again", "unlogged": {"ignored": 3, "asked": 1}}
        journal.append(Draft(Kind.ASKED, heard=Heard("voice", "nine"), data=asked))
        journals.measure(journal, journals.plan(), places[2], "18", heard=Heard("keypad", "18"))
    statistics([tmp_path], console)
    found = heard_table(console)
    # the intervals of 3 in 5, 0 in 5 and 2 in 7 by scipy, without continuity correction
    three, none, two = (
        "[{:.1f}-{:.1f}]".format(*(100 * limit for limit in binomtest(k, n).proportion_ci(method="wilson")))
        for k, n in ((3, 5), (0, 5), (2, 7))
    )
    assert found["all"] == f"5 3: 60.0 % {three} 1 1 2: 28.6 % {two} 3"
    assert found["A. Fitter"] == f"5 3: 60.0 % {three} 1 1 0: 0.0 % {none} 0"
    assert found["B. Turner"].startswith("0 0 0 0 2: 100.0 %")
    assert found["ring gaps"] == found["all"]
    assert found["20 dB and more"].startswith("4 2: 50.0 %")
    assert found["under 10 dB"].startswith("1 1: 100.0 %")
    assert found["no sound kept"].startswith("0 0 0 0 2: 100.0 %")
    assert list(found).index("20 dB and more") < list(found).index("under 10 dB")
    assert "That a reading stood is no proof that it was right" in said(console)
    assert "95 % Wilson interval" in said(console)
    (tmp_path / "w.journal.sounds" / first[2].draft.heard.sound).unlink()  # it may go at any time
    again = Console(file=io.StringIO(), width=150, no_color=True)
    statistics([tmp_path], again)
    assert heard_table(again)["20 dB and more"].startswith("3 1: 33.3 %")


def test_a_session_by_keys_alone_has_no_table_of_what_was_heard(tmp_path, console):
    with Journal.open(tmp_path / "k.journal") as journal:
        journal.append(opening(journals.plan()))
        place = journals.plan().checks[0].positions[0]
        journals.measure(journal, journals.plan(), place, "18", heard=Heard("keypad", "18"))
    statistics([tmp_path], console)
    assert "Heard by voice" not in said(console)


@pytest.mark.parametrize("confidence", [0, 1, -1, 95])
def test_a_confidence_that_is_none_is_refused(folder, console, confidence):
    with pytest.raises(HandsfreeError, match="between 0 and 1"):
        statistics([folder], console, confidence=confidence)


def test_statistics_of_nothing_say_so(folder, console):
    with pytest.raises(JournalError, match="nothing to reckon with"):
        statistics([folder], console, check="no such check")


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


# ---- as they are typed


def typed(*words):
    options = parser().parse_args([str(word) for word in words])
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


def test_on_a_narrow_screen_nothing_is_cut_off(path, capsys, monkeypatch):
    letters = []
    for width in ("80", "400"):
        monkeypatch.setenv("COLUMNS", width)
        typed("journal", "show", path, "--log")
        letters.append(Counter("".join(capsys.readouterr().out.replace("\u2500", "").split())))
    assert letters[0] == letters[1]
