"""`handsfree adapt`: learned from real recordings, kept, used, shown and undone."""

from __future__ import annotations

import importlib
import shutil
import sqlite3
from dataclasses import replace
from pathlib import Path

import pytest

from handsfree.adapt import Adaptation, Learned, load_adaptation, save_adaptation
from handsfree.bench import Bench
from handsfree.commands.adapt import _kept, told
from handsfree.doctor import own_voice, run_probes
from handsfree.ears import Choice, Recognisers
from handsfree.hear import PhraseModel, PhraseRecogniser, read_sound, utterances
from handsfree.journal import Journal, Kind, Sounds
from handsfree.planfile import load_plan
from handsfree.recordings import ManifestRow, read_manifest
from handsfree.understand import Reading, Spellings, listen_for, meanings
from handsfree.understand.automaton import Builder
from tests.support.journals import story_at
from tests.support.program import PLAN, RECORDINGS, ROOT, handsfree_here, objects, refusal

FIXTURES = ROOT / "audio_fixtures"
HEADER = "file,voice,kind,text,cylinder,ring,value,unit\n"
STRICT = Adaptation(
    sure_fit=0.0, sure_margin=8.0, recordings=20, made="2026-11-25T09:00:00Z", recogniser="phrase/adapted"
)
BARE = RECORDINGS / "04-michael.ogg"  # eighteen thou
SAYER = "espeak-gb"  # of whom the recogniser is least sure


def kept(folder: Path) -> Path:
    """Where a program that was started in this folder keeps it."""
    return folder / "data" / "handsfree" / "adaptation.toml"


@pytest.fixture
def home(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A folder to work in, with the user's data in it."""
    monkeypatch.setenv("XDG_DATA_HOME", str(tmp_path / "data"))
    monkeypatch.chdir(tmp_path)
    return tmp_path


@pytest.fixture
def adapted(home: Path) -> Path:
    """A user for whom nothing is ever sure enough."""
    save_adaptation(STRICT, kept(home))
    return home


@pytest.fixture(scope="module")
def sure() -> ManifestRow:
    """A reading that is sure enough by the usual limits and not by STRICT's, whatever the encoder."""
    rows = {row.file: row for row in read_manifest(FIXTURES) if row.voice == SAYER and row.kind == "reading"}
    heard = objects(handsfree_here("hear", PLAN, *(FIXTURES / file for file in rows), "--json", "--no-adapt"))
    fitting = {
        str(Path(str(form["file"])).relative_to(FIXTURES)): float(form["margin"])
        for form in heard
        if form["outcome"] == "accept" and len(form["commands"]) == 1
    }
    file = min(fitting, key=lambda name: fitting[name])
    assert STRICT.sure_margin > fitting[file] + 0.5
    return rows[file]


# --- used by default, and left out ---------------------------------------------------------------


def test_what_was_learned_is_used_by_hear_and_left_out_by_no_adapt(adapted: Path, sure: ManifestRow) -> None:
    (own,) = objects(handsfree_here("hear", PLAN, FIXTURES / sure.file, "--json"))
    (usual,) = objects(handsfree_here("hear", PLAN, FIXTURES / sure.file, "--json", "--no-adapt"))
    assert (own["outcome"], usual["outcome"]) == ("ask", "accept")
    assert own["heard"] == usual["heard"]
    assert sure.value is not None
    assert (usual["command"]["value"], usual["command"]["unit"]) == (str(sure.value.value), sure.value.unit)
    assert own["recogniser"] == f"{usual['recogniser']}+own"


def test_what_was_learned_is_used_by_replay_and_by_score(adapted: Path, sure: ManifestRow) -> None:
    for extra, answered in (([], "ask"), (["--no-adapt"], "accept")):
        (form,) = objects(handsfree_here("replay", PLAN, FIXTURES / sure.file, "--json", *extra))
        assert form["outcome"] == answered
    shutil.copy(FIXTURES / sure.file, adapted / "a.ogg")
    assert sure.value is not None
    said, place = sure.text.replace(",", ""), f"{sure.cylinder},{sure.ring}"
    row = f"a.ogg,me,reading,{said},{place},{sure.value.value},{sure.value.unit}\n"
    (adapted / "manifest.csv").write_text(HEADER + row, "utf-8")
    for extra, result in (([], "asked"), (["--no-adapt"], "right")):
        (form,) = objects(handsfree_here("score", adapted, "--json", *extra))
        assert form["commands"][result] == 1
        assert form["adapted"] is (not extra)


def test_a_learned_form_is_heard_and_pace_is_taken_from_the_person() -> None:
    plan = load_plan(PLAN)
    (utterance,) = utterances(read_sound(BARE))
    own = Adaptation(forms={("thou",): ("tau",)}, pace=0.25)
    usual, adapted = (
        Recognisers(plan, Choice.PHRASE, adaptation=one).ear("ring gaps").recogniser.hear(utterance)
        for one in (None, own)
    )
    assert adapted.words == usual.words == ("eighteen", "thou")
    assert usual.pace is not None
    assert adapted.pace == pytest.approx(usual.pace - 0.25)
    assert (
        Recognisers(plan, Choice.PHRASE).ear("ring gaps").thresholds is None
    )  # nobody's, unless it is handed in


def test_a_form_reaches_the_decoder() -> None:
    """A word that nobody could recognise by its letters is heard once it may be written as it sounds."""
    builder = Builder()
    start, final = builder.state(), builder.state()
    for word in ("qworb", "roger", "previous"):
        builder.phrase(start, final, [word])
    automaton = builder.build(start, final)
    (utterance,) = utterances(read_sound(FIXTURES / "kokoro-bm_lewis" / "27.ogg"))  # disregard
    model = PhraseModel()
    usual, own = (
        PhraseRecogniser(automaton, model=model, spellings=Spellings(forms)).hear(utterance)
        for forms in ({}, {("qworb",): ("disregard",)})
    )
    assert own.words == ("qworb",)
    assert own.fit is not None
    assert own.fit > -0.5
    assert usual.fit is not None
    assert usual.fit < own.fit - 1


# --- what can't be used --------------------------------------------------------------------------


def test_a_torn_file_is_one_sentence_and_the_way_out_works(adapted: Path) -> None:
    text = kept(adapted).read_text("utf-8")
    kept(adapted).write_text(text[: len(text) // 2], "utf-8")
    shutil.copy(BARE, adapted / "a.ogg")
    (adapted / "manifest.csv").write_text(f"{HEADER}a.ogg,me,bare,eighteen thou,,,18,thou\n", "utf-8")
    for command in (("hear", PLAN, BARE), ("replay", PLAN, BARE), ("score", "."), ("bench", PLAN, "--plain")):
        said = refusal(handsfree_here(*command))
        assert str(kept(adapted)) in said
        assert '"handsfree adapt --undo", or go without it by --no-adapt' in said
    assert handsfree_here("hear", PLAN, BARE, "--no-adapt").returncode == 0
    undone = handsfree_here("adapt", "--undo")
    assert (undone.returncode, undone.stdout) == (0, f"Taken away: {kept(adapted)}\n")
    assert handsfree_here("hear", PLAN, BARE).returncode == 0


@pytest.mark.quick
def test_one_of_a_newer_version_is_refused(adapted: Path) -> None:
    kept(adapted).write_text(kept(adapted).read_text("utf-8").replace("format = 1", "format = 7"), "utf-8")
    for command in (("adapt", "--show"), ("hear", PLAN, BARE), ("bench", PLAN, "--plain", "--silent")):
        said = refusal(handsfree_here(*command))
        assert "has format 7, and this program reads up to format 1; use a newer handsfree" in said


@pytest.mark.quick
def test_show_and_undo_say_where_it_is_or_that_there_is_none(home: Path) -> None:
    assert handsfree_here("adapt", "--show").stdout.startswith("Nothing was learned of your voice yet")
    assert handsfree_here("adapt", "--undo").stdout == "There was nothing to take away.\n"
    save_adaptation(STRICT, kept(home))
    shown = handsfree_here("adapt", "--show").stdout
    assert str(kept(home)) in shown
    assert "sure_fit = 0.0" in shown
    assert handsfree_here("adapt", "--undo").stdout == f"Taken away: {kept(home)}\n"
    assert not kept(home).exists()


def recordings(folder: Path, count: int, voices: int = 1) -> Path:
    folder.mkdir()
    rows = []
    for number in range(count):
        shutil.copy(BARE, folder / f"{number}.ogg")
        rows.append(f"{number}.ogg,v{number % voices},bare,eighteen thou,,,18,thou\n")
    (folder / "manifest.csv").write_text(HEADER + "".join(rows), "utf-8")
    return folder


def test_there_must_be_recordings_enough_of_one_person(home: Path) -> None:
    said = refusal(handsfree_here("adapt"))
    assert said.startswith('there are no rehearsals to learn from; run "handsfree rehearse PLAN"')
    few = recordings(home / "few", 3)
    said = refusal(handsfree_here("adapt", "--from", few))
    assert said == ("3 recordings are too few to learn from and to judge by; rehearse at least 8 phrases")
    several = recordings(home / "several", 10, voices=2)
    said = refusal(handsfree_here("adapt", "--from", several))
    assert said == "these are recordings of several voices (v0, v1); name yours with --voice"
    said = refusal(handsfree_here("adapt", "--from", several, "--voice", "v1"))
    assert said.startswith("5 recordings are too few")
    said = refusal(handsfree_here("adapt", "--from", few, "--from", several, "--voice", "v1"))
    assert said.startswith("5 recordings are too few")  # a folder of somebody else's is passed over
    said = refusal(handsfree_here("adapt", "--from", several, "--voice", "v9"))
    assert said == 'there are no recordings of a voice "v9"; did you mean "v1"?'
    said = refusal(handsfree_here("adapt", "--from", home / "nowhere"))
    assert said == f"{home / 'nowhere' / 'manifest.csv'}: there is no such manifest; check its name"


@pytest.mark.quick
def test_check_says_whether_anything_was_learned(adapted: Path) -> None:
    row = own_voice()
    assert (row.ok, row.remedy) == (True, "")
    assert row.found == f"learned from 20 recordings on 2026-11-25, in {kept(adapted)}"
    kept(adapted).write_text("torn", "utf-8")
    (row,) = run_probes([("own voice", own_voice)])
    assert not row.ok
    assert "handsfree adapt --undo" in row.found
    kept(adapted).unlink()
    assert own_voice().found == "nothing learned; everybody is heard alike"


# --- learned from real recordings ----------------------------------------------------------------


def test_where_nothing_would_help_nothing_is_kept_and_what_was_there_goes(home: Path) -> None:
    folder = recordings(home / "same", 8)
    save_adaptation(STRICT, kept(home))
    done = handsfree_here("adapt", "--from", folder)
    assert done.returncode == 0, done.stderr
    assert "  nothing that would help; you are heard as everybody is" in done.stdout
    assert "  before  8 right, 0 wrong, 0 asked, 0 ignored: 0" in done.stdout
    assert "is taken away" in done.stdout
    assert not kept(home).exists()


def test_a_value_taken_wrong_makes_it_ask_instead(home: Path) -> None:
    """Recordings of a phrase that is heard surely, and of one less surely and said to be another."""
    heard = objects(handsfree_here("hear", PLAN, *(FIXTURES / "flite-slt").glob("1*.ogg"), BARE, "--json"))
    accepted = {form["margin"]: form["file"] for form in heard if form["outcome"] == "accept"}
    margin = min(accepted)
    assert margin < 6 < max(accepted)
    unsure = Path(accepted[margin])
    assert heard[-1]["margin"] > 6
    folder = recordings(home / "own", 8)
    for number in range(8, 11):
        shutil.copy(unsure, folder / f"{number}.ogg")
        with (folder / "manifest.csv").open("a", encoding="utf-8") as file:
            file.write(f"{number}.ogg,v0,bare,seventy thou,,,70,thou\n")
    (before,) = objects(handsfree_here("score", folder, "--json"))
    assert (before["commands"]["right"], before["commands"]["wrong"]) == (8, 3)
    done = handsfree_here("adapt", "--from", folder)
    assert done.returncode == 0, done.stderr
    assert "  before  8 right, 3 wrong, 0 asked, 0 ignored: 300" in done.stdout
    assert "  after   8 right, 0 wrong, 3 asked, 0 ignored: 3" in done.stdout
    assert "you will be asked more often: margin" in done.stdout
    found = load_adaptation(kept(home))
    assert found is not None
    assert found.sure_margin == pytest.approx(margin + 0.01, abs=0.011)
    assert (found.recordings, found.recogniser) == (11, before["recogniser"])
    assert found.speech_db is not None
    assert -60 < found.speech_db < 0
    (after,) = objects(handsfree_here("score", folder, "--json"))
    assert (after["commands"]["right"], after["commands"]["wrong"], after["commands"]["asked"]) == (8, 0, 3)
    assert "sure_margin" in handsfree_here("adapt", "--show").stdout


# --- learned from work at the bench --------------------------------------------------------------


def worked(path: Path, count: int = 10) -> tuple[int, int]:
    """Log a session of real sound, in which what comes nearest to being doubted is said to be misheard.

    Its correction is keyed at once. Return how many readings stood, and how many were corrected.
    """
    plan = load_plan(PLAN)
    rows = [row for row in read_manifest(FIXTURES) if row.voice == "flite-slt" and row.value is not None]
    stood = mended = 0
    with Journal.open(path) as journal:
        bench = Bench(plan, journal, Recognisers(plan, Choice.PHRASE), sounds=Sounds.beside(path))
        bench.open(who="A. Fitter")
        for row in rows[-count:]:
            (utterance,) = utterances(read_sound(FIXTURES / row.file))
            exchange = bench.hear(utterance)
            logged = [event for event in exchange.events if event.kind is Kind.READING]
            if len(logged) != 1 or exchange.hearing is None:
                continue
            second = exchange.hearing.runner_up or ()
            listening = listen_for(plan, plan.checks[0])
            meant = meanings(second, listening.automaton, listening.context) if second else ()
            other = meant[0].commands[0] if len(meant) == 1 else None
            if isinstance(other, Reading) and other.feel is None and (exchange.hearing.margin or 9) < 6.9:
                bench.key(f"/{other.value.value}")
                mended += 1
            else:
                stood += 1
    return stood, mended


def test_readings_that_stood_and_corrections_at_the_bench_are_learned_from(home: Path) -> None:
    path = home / "monday.journal"
    stood, mended = worked(path)
    assert stood + mended >= 8
    assert mended >= 1
    before = path.read_bytes()
    done = handsfree_here("adapt", "--from", path)
    assert done.returncode == 0, done.stderr
    assert f"  before  {stood} right, {mended} wrong, 0 asked, 0 ignored: {100 * mended}" in done.stdout
    assert "you will be asked more often: margin" in done.stdout
    found = load_adaptation(kept(home))
    assert found is not None
    assert found.recordings == stood + mended
    assert Adaptation().sure_margin < found.sure_margin
    assert path.read_bytes() == before
    again = handsfree_here("adapt", "--from", path)  # no better than what is there
    assert "What was learned from" in again.stdout
    assert "before stays" in again.stdout
    assert load_adaptation(kept(home)) == found
    assert handsfree_here("adapt", "--undo").stdout == f"Taken away: {kept(home)}\n"
    refused = refusal(handsfree_here("adapt", "--from", path, "--voice", "B. Turner"))
    assert refused == 'there are no recordings of a voice "B. Turner"; did you mean "A. Fitter"?'


def test_of_a_journal_that_was_altered_or_has_no_sounds_nothing_is_learned(home: Path) -> None:
    path = home / "monday.journal"
    story_at(path)
    said = refusal(handsfree_here("adapt", "--from", path))
    assert said == (
        "0 recordings are too few to learn from and to judge by; rehearse at least 8 phrases, or name more "
        "journals"
    )
    connection = sqlite3.connect(path)
    connection.execute("DROP TRIGGER event_keeps")
    connection.execute("UPDATE event SET value = '19' WHERE kind = 'reading' AND value = '18.25'")
    connection.commit()
    connection.close()
    said = refusal(handsfree_here("adapt", "--from", home))
    assert said.startswith(f"{path} is not as it was logged, so nothing is learned from it; ")
    assert not kept(home).exists()


def test_what_was_learned_before_goes_only_for_something_that_is_better(
    home: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    save_adaptation(STRICT, kept(home))
    new = replace(Adaptation(sure_margin=4.0), after={"right": 9, "wrong": 0, "asked": 3, "ignored": 0})
    for asked, stays in ((3, True), (4, False)):
        known = STRICT, {"right": 8, "wrong": 0, "asked": asked, "ignored": 0}
        _kept(new, known, from_work=True)
        assert (load_adaptation() == STRICT) is stays
    save_adaptation(STRICT, kept(home))
    _kept(Adaptation(), (STRICT, {"right": 0, "wrong": 9, "asked": 0, "ignored": 0}), from_work=True)
    assert load_adaptation() == STRICT  # nothing new came of the journals
    _kept(Adaptation(), from_work=True)
    assert load_adaptation() == STRICT
    _kept(Adaptation())
    assert load_adaptation() is None
    assert "stays (0 right, 9 wrong: 900)" in capsys.readouterr().out


@pytest.mark.quick
def test_what_is_told_names_forms_pace_limits_and_what_was_not_kept() -> None:
    learned = Learned(
        Adaptation(forms={("thou",): ("tau",)}, pace=0.18, sure_margin=3.5, recordings=20),
        {"right": 15, "wrong": 1, "asked": 4, "ignored": 0},
        {"right": 18, "wrong": 0, "asked": 1, "ignored": 1},
        {(("ten",), "tin"): "it came up only once"},
    )
    lines = told(learned, learned.adaptation, {})
    assert lines[:3] == [
        "Learned from 20 recordings:",
        "  when you say thou, it may be written tau",
        "  you take 20 % more time than usual for a phrase",
    ]
    text = "\n".join(lines)
    assert "asked more often: margin 3.5 to act unasked, usually 3" in text
    assert "not learned, because it came up only once: ten as tin" in text
    assert "before  15 right, 1 wrong, 4 asked, 0 ignored: 104" in text
    assert "after   18 right, 0 wrong, 1 asked, 1 ignored: 2" in text


@pytest.mark.quick
def test_the_demo_takes_no_notice_of_what_was_learned(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.syspath_prepend(str(ROOT / "demo"))
    session = importlib.import_module("session")
    started: list[list[str]] = []

    class Process:
        stdout = ()

        def __init__(self, command: list[str], **_: object) -> None:
            started.append(command)

        def wait(self) -> int:
            return 0

    monkeypatch.setattr(session.subprocess, "Popen", Process)
    assert (
        list(session._replayed(session.DEMOS["rings"], "phrase", ROOT / "demo" / "out" / "s.journal")) == []
    )
    assert [command[3] for command in started] == ["replay"]
    assert "--no-adapt" in started[0]
