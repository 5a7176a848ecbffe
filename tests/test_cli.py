"""The commands that a person types, each as a process of its own, with real sound and a real recogniser."""

from __future__ import annotations

import csv
import io
import json
import subprocess
import sys
import wave
from pathlib import Path
from typing import Any

import numpy as np
import pytest
import soundfile

from handsfree import __version__
from handsfree.cli import COMMANDS
from handsfree.hear import read_sound
from handsfree.hear.sound import write_wav
from tests.support.program import PLAN, RECORDINGS, ROOT, handsfree, handsfree_here, objects

FIELDS = ["file", "start", "end", "heard", "outcome", "command", "fit", "margin", "runner_up"]
FIELDS += ["decode_ms", "recogniser"]

PLACED, BARE, LEAF = "01-michael.ogg", "02-michael.ogg", "05-emma.ogg"
CHATTER, STAND_BY, CORRECTED = "06-joe.ogg", "18-heart.ogg", "12-george.ogg"


def reading(value: str, cylinder: str | None, ring: str | None, feel: str | None = None) -> dict[str, Any]:
    return {
        "kind": "reading",
        "cylinder": cylinder,
        "ring": ring,
        "value": value,
        "unit": "thou",
        "feel": feel,
    }


@pytest.fixture(scope="module")
def heard(tmp_path_factory: pytest.TempPathFactory) -> dict[str, dict[str, Any]]:
    """What `hear --json` makes of a list of files: speech, talk, and a second of silence."""
    folder = tmp_path_factory.mktemp("heard")
    write_wav(folder / "silence.wav", np.zeros(16_000, np.int16))
    names = [str(RECORDINGS / name) for name in (PLACED, BARE, LEAF, CHATTER, STAND_BY, CORRECTED)]
    (folder / "all.txt").write_text("\n".join([*names, "", "silence.wav"]), encoding="utf-8")
    found = objects(handsfree("hear", PLAN, f"@{folder / 'all.txt'}", "--json", cwd=folder))
    assert [form["file"] for form in found] == [*names, str(folder / "silence.wav")]
    return {Path(form["file"]).name: form for form in found}


def test_hear_gives_every_field_of_an_utterance(heard: dict[str, dict[str, Any]]) -> None:
    for form in heard.values():
        assert [name for name in form if name in FIELDS] == FIELDS


@pytest.mark.parametrize(
    ("name", "command"),
    [
        (PLACED, reading("14.5", "1", "top")),
        (BARE, reading("16", None, None)),
        (LEAF, reading("15", "2", "top", "no go")),
        (STAND_BY, {"kind": "stand by"}),
        (CORRECTED, {**reading("15", None, None), "kind": "correction"}),
    ],
)
def test_hear_gives_the_command_that_was_meant(
    heard: dict[str, dict[str, Any]], name: str, command: dict[str, Any]
) -> None:
    form = heard[name]
    assert form["outcome"] == "accept"
    assert form["command"] == command
    assert 0 <= form["start"] < form["end"] < 5
    assert form["margin"] > 0
    assert form["decode_ms"] > 0
    assert form["recogniser"].startswith("phrase")


def test_hear_ignores_talk(heard: dict[str, dict[str, Any]]) -> None:
    assert heard[CHATTER]["outcome"] == "ignore"
    assert heard[CHATTER]["command"] is None


def test_hear_gives_one_object_for_silence(heard: dict[str, dict[str, Any]]) -> None:
    silence = heard["silence.wav"]
    assert (silence["outcome"], silence["command"], silence["heard"]) == ("ignore", None, "")


def test_hear_takes_a_folder_and_prints_a_line_an_utterance(tmp_path: Path) -> None:
    samples = read_sound(RECORDINGS / BARE)
    write_wav(tmp_path / "b.wav", samples)
    soundfile.write(tmp_path / "a.flac", np.stack([samples, samples], 1), 16_000, subtype="PCM_24")
    (tmp_path / "notes.txt").write_text("not a recording", encoding="utf-8")
    done = handsfree("hear", PLAN, tmp_path)
    assert done.returncode == 0, done.stderr
    assert done.stdout.splitlines() == [
        f"{tmp_path / name}: accept: sixteen thou" for name in ("a.flac", "b.wav")
    ]


@pytest.fixture(scope="module")
def session(tmp_path_factory: pytest.TempPathFactory) -> tuple[Path, list[dict[str, Any]]]:
    """A session of speech and keys, with its journal and its answers as sound."""
    folder = tmp_path_factory.mktemp("session")
    (folder / "pad.keys").write_text("17.25 Enter\n18 Num Lock 18.5 Enter  # the leaf was wiped\n", "utf-8")
    done = handsfree(
        *("replay", PLAN, RECORDINGS / PLACED, folder / "pad.keys", RECORDINGS / LEAF),
        *("--json", "--journal", folder / "s.journal", "--say", folder / "answers"),
        cwd=folder,
    )
    return folder, objects(done)


def test_replay_takes_speech_and_keys_as_one_session(session: tuple[Path, list[dict[str, Any]]]) -> None:
    _, forms = session
    assert [(form["source"], form["answer"]) for form in forms] == [
        ("voice", "One top, fourteen and a half. File three and a half."),
        ("keypad", "One top, seventeen and a quarter. File three quarters of a thou."),
        ("keypad", "One top, eighteen and a half. Good. Next, two top."),
        ("voice", "Two top, under fifteen. Over three to go."),
    ]
    assert [form["logged"][0]["verdict"] for form in forms] == ["short", "short", "good", "short"]


def test_replay_saves_each_answer_as_sound(session: tuple[Path, list[dict[str, Any]]]) -> None:
    _, forms = session
    for form in forms:
        with wave.open(form["said"]) as sound:
            samples = np.frombuffer(sound.readframes(sound.getnframes()), "<i2").astype(float)
            assert sound.getnframes() / sound.getframerate() > 1.0
        assert np.sqrt(np.mean(samples**2)) > 300
    assert len({form["said"] for form in forms}) == len(forms)


def test_export_writes_the_session_as_csv(session: tuple[Path, list[dict[str, Any]]]) -> None:
    folder, _ = session
    done = handsfree("export", folder / "s.journal", "--to", "csv", "--out", folder / "s.csv")
    assert (done.returncode, done.stdout) == (0, "")
    text = (folder / "s.csv").read_bytes().decode("utf-8")
    assert text.count("\r\n") == text.count("\n") == 5  # RFC 4180
    rows = list(csv.DictReader(io.StringIO(text, newline="")))
    assert [
        (r["cylinder"], r["ring"], r["value"], r["bound"], r["remaining"], r["source"]) for r in rows
    ] == [
        ("1", "top", "14.5", "", "3.5", "voice"),
        ("1", "top", "17.25", "", "0.75", "keypad"),
        ("1", "top", "18.5", "", "", "keypad"),
        ("2", "top", "15", "under", "3", "voice"),
    ]


@pytest.mark.parametrize("form", ["csv", "json", "xlsx", "pdf"])
def test_export_gives_the_same_bytes_to_a_file_and_to_standard_output(
    session: tuple[Path, list[dict[str, Any]]], form: str
) -> None:
    folder, _ = session
    out = folder / f"twice.{form}"
    assert handsfree("export", folder / "s.journal", "--to", form, "--out", out).returncode == 0
    printed = subprocess.run(
        [sys.executable, "-m", "handsfree.cli", "export", folder / "s.journal", "--to", form],
        capture_output=True,
        check=True,
        cwd=ROOT,
    )
    assert printed.stdout == out.read_bytes()


def test_what_was_said_can_be_listened_to_again(session: tuple[Path, list[dict[str, Any]]]) -> None:
    folder, forms = session
    journal = folder / "s.journal"
    spoken = [form["logged"][0]["seq"] for form in forms if form["source"] == "voice"]
    for seq in spoken:
        done = handsfree("journal", "play", journal, str(seq), "--out", folder / f"{seq}.flac")
        assert done.returncode == 0, done.stderr
    kept = [soundfile.read(folder / f"{seq}.flac", dtype="int16")[0] for seq in spoken]
    whole = read_sound(RECORDINGS / PLACED)
    said = kept[0]
    assert 8_000 < len(said) <= len(whole)
    assert any(np.array_equal(whole[at : at + len(said)], said) for at in range(len(whole) - len(said) + 1))
    assert "No sound was kept" in handsfree("journal", "play", journal, "3", "--out", folder / "x").stderr
    assert len(list((folder / "s.journal.sounds").iterdir())) == len(spoken) == 2


def test_no_sound_is_kept_where_that_is_switched_off_and_who_measures_is(tmp_path: Path) -> None:
    options = ("--journal", tmp_path / "j", "--no-sounds", "--who", "A. Fitter")
    done = handsfree("replay", PLAN, RECORDINGS / PLACED, *options, cwd=tmp_path)
    assert done.returncode == 0, done.stderr
    assert not (tmp_path / "j.sounds").exists()
    document = json.loads(handsfree("export", tmp_path / "j", "--to", "json").stdout)
    opened, *entries = document["events"]
    assert opened["data"]["who"] == "A. Fitter"
    assert [event["kind"] for event in entries] == ["reading"]
    assert all("sound" not in event for event in entries)


def test_export_keeps_what_was_heard_and_how_surely(session: tuple[Path, list[dict[str, Any]]]) -> None:
    folder, _ = session
    document = json.loads(handsfree("export", folder / "s.journal", "--to", "json").stdout)
    spoken = [event for event in document["events"] if event["kind"] == "reading" and "fit" in event]
    assert [event["words"] for event in spoken] == [
        "cylinder one top fourteen and a half thou",
        "cylinder two top no go fifteen",
    ]
    for event in spoken:
        assert event["margin"] > 0
        assert event["recogniser"].startswith("phrase")


def test_replay_goes_on_where_the_journal_stopped(
    session: tuple[Path, list[dict[str, Any]]], tmp_path: Path
) -> None:
    folder, _ = session
    journal = tmp_path / "copy.journal"
    journal.write_bytes((folder / "s.journal").read_bytes())
    (tmp_path / "on.keys").write_text("16 Enter\n", encoding="utf-8")
    done = handsfree("replay", PLAN, tmp_path / "on.keys", "--journal", journal, cwd=tmp_path)
    assert done.returncode == 0, done.stderr
    lines = done.stdout.splitlines()
    assert lines[1].startswith("Resumed.")
    assert lines[1].endswith("Next, two top. Eye protection on.")
    assert "    answer    Two top, sixteen. File two." in lines
    table = [line.split() for line in lines if line.strip()[:1].isdigit()]
    assert [row[1:4] for row in table] == [
        ["1", "top", "14.5"],
        ["1", "top", "17.25"],
        ["1", "top", "18.5"],
        ["2", "top", "<"],
        ["2", "top", "16"],
    ]


def test_card_shows_what_may_be_said_and_keyed() -> None:
    done = handsfree("card", PLAN)
    assert done.returncode == 0, done.stderr
    assert "Heron Lane, eight-cylinder ring fitting" in done.stdout
    assert "cylinder three top eighteen thou" in done.stdout
    assert "3*1*18" in done.stdout


def test_check_names_a_remedy_for_whatever_does_not_work() -> None:
    done = handsfree("check")
    assert done.returncode == 0, done.stderr
    lines = done.stdout.splitlines()
    faults = [line for line in lines if line.startswith("no ")]
    assert len([line for line in lines if "Remedy:" in line]) == len(faults)
    assert any(line.startswith("ok   embedded recogniser") for line in lines)


def test_models_list_says_where_each_model_comes_from(tmp_path: Path) -> None:
    done = handsfree("models", "list", cwd=tmp_path)
    assert done.returncode == 0, done.stderr
    assert "vosk-model-small-en-us-0.15" in done.stdout
    assert "30f26242c4eb449f948e42cb302dd7a686cb29a3423a8367f99ff41780942498" in done.stdout
    assert "moonshine-voice==0.0.49" in done.stdout


@pytest.mark.quick
@pytest.mark.parametrize(
    ("arguments", "imported"),
    [
        (["--help"], set()),
        (["--version"], set()),
        (["card", "--help"], {"card"}),
        (["check", "--help"], {"check"}),
        (["models", "--help"], {"models"}),
        (["export", "--help"], {"export"}),
    ],
)
def test_a_command_is_imported_only_when_it_is_typed(arguments: list[str], imported: set[str]) -> None:
    program = (
        "import sys\nfrom handsfree.cli import main\n"
        "try: main(sys.argv[1:])\nexcept SystemExit: pass\n"
        "print(*[name for name in sys.modules if name.startswith('handsfree.commands.')], sep='\\n')"
    )
    done = subprocess.run(
        [sys.executable, "-c", program, *arguments], capture_output=True, text=True, cwd=ROOT, check=True
    )
    found = {line.rpartition(".")[2] for line in done.stdout.splitlines() if line.startswith("handsfree.")}
    assert found & {listed.name for listed in COMMANDS} == imported


LIGHT = {"cli", "commands", "doctor", "errors", "files", "preferences", "streams", "textfile", "visible"}
# In these nearly every function prints a table or runs the live bench: they import what they need at once.
AT_ONCE = {"adapt", "bench", "front", "journal", "share"}


@pytest.mark.quick
@pytest.mark.parametrize("command", sorted({listed.name for listed in COMMANDS} - AT_ONCE))
def test_help_imports_nothing_that_only_the_command_itself_needs(command: str) -> None:
    program = (
        "import sys\nbefore = set(sys.modules)\nfrom handsfree.cli import main\n"
        "try: main([sys.argv[1], '--help'])\nexcept SystemExit: pass\n"
        "print(*sorted(set(sys.modules) - before), sep='\\n', file=sys.stderr)"
    )
    done = subprocess.run(
        [sys.executable, "-c", program, command], capture_output=True, text=True, cwd=ROOT, check=True
    )
    found = done.stderr.split()
    assert done.stdout.startswith(f"usage: handsfree {command}")
    assert f"handsfree.commands.{command}" in found
    rooms = {name.split(".")[1] for name in found if name.startswith("handsfree.")}
    others = {name.split(".")[0] for name in found} - {"handsfree"} - sys.stdlib_module_names
    assert (rooms - LIGHT, others) == (set(), set())


@pytest.mark.quick
def test_every_listed_command_has_arguments_help_and_an_action() -> None:
    assert len(COMMANDS) == 14
    for listed in COMMANDS:
        assert listed.module == f"handsfree.commands.{listed.name}"
        assert f"usage: handsfree {listed.name}" in handsfree_here(listed.name, "--help").stdout


def test_version() -> None:
    assert handsfree("--version").stdout == f"handsfree {__version__}\n"


def test_a_reader_that_goes_away_is_no_fault(tmp_path: Path) -> None:
    keys = tmp_path / "many.keys"
    keys.write_text("16 Enter\n" * 3000, encoding="utf-8")
    process = subprocess.Popen(
        [sys.executable, "-m", "handsfree.cli", "replay", PLAN, keys],
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        cwd=ROOT,
    )
    assert process.stdout is not None
    assert process.stderr is not None
    process.stdout.readline()
    process.stdout.close()
    assert process.wait(timeout=60) == 0
    assert process.stderr.read() == b""
    process.stderr.close()


@pytest.mark.parametrize(
    "arguments",
    [
        ("card", "a\x1b]0;owned\x07.toml"),
        ("card", "a\x9b2J.toml"),
        ("replay", PLAN, "a\x1b[2J.wav"),
        ("card", PLAN, "more\x1b[31m"),
        ("export", "j\x1b[2J.journal", "--to", "csv"),
    ],
)
def test_signs_of_a_name_that_a_terminal_would_obey_are_written_out(arguments):
    done = handsfree_here(*arguments)
    assert not {"\x1b", "\x9b", "\x07"} & set(done.stdout + done.stderr)
    assert "\\x" in done.stdout + done.stderr


def test_a_file_whose_name_a_terminal_would_obey_is_replayed_and_shown(tmp_path):
    keys = tmp_path / "a\x1b[2Jb.keys"
    keys.write_text("3*1*18 Enter\n", "utf-8")
    done = handsfree("replay", PLAN, keys, cwd=tmp_path)
    assert done.returncode == 0, done.stderr
    assert "\x1b" not in done.stdout
    assert r"a\x1b[2Jb.keys" in done.stdout
