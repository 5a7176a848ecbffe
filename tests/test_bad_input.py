"""Bad input to the commands: one sentence that says what is wrong, where, and what to do; no traceback."""

from __future__ import annotations

import csv
import io
import json
import os
import resource
import shutil
import sqlite3
import subprocess
import sys
from collections.abc import Iterator
from datetime import UTC, datetime
from pathlib import Path

import pytest

from handsfree.errors import HandsfreeError
from handsfree.hear import read_sound
from handsfree.hear.sound import write_wav
from handsfree.journal.event import Identities
from handsfree.page.door import address_of
from tests.support.program import PLAN, RECORDINGS, ROOT, handsfree, handsfree_here, objects, refusal

SPEECH = RECORDINGS / "02-michael.ogg"


@pytest.fixture
def plan(tmp_path: Path) -> Path:
    return Path(shutil.copy(PLAN, tmp_path / "plan.toml"))


@pytest.fixture
def wav(tmp_path: Path) -> Path:
    write_wav(tmp_path / "whole.wav", read_sound(SPEECH))
    return tmp_path / "whole.wav"


def altered(plan: Path, before: str, after: str) -> int:
    """Change the first such text of a plan and give its line."""
    text = plan.read_text("utf-8")
    assert before in text
    plan.write_text(text.replace(before, after, 1), "utf-8")
    return text[: text.index(before)].count("\n") + 1


# ---- usage -------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("arguments", "complaint"),
    [
        ((), "the following arguments are required: COMMAND"),
        (("polish",), "invalid choice: 'polish'"),
        (("hear", "plan.toml"), "the following arguments are required: WAV|DIR|@LIST"),
        (("export", "s.journal"), "the following arguments are required: --to"),
        (("export", "s.journal", "--to", "stone"), "invalid choice: 'stone'"),
        (("replay", "plan.toml", "a.wav", "--recogniser", "parrot"), "invalid choice: 'parrot'"),
    ],
)
def test_bad_usage_ends_with_status_2(arguments: tuple[str, ...], complaint: str) -> None:
    done = handsfree_here(*arguments)
    assert done.returncode == 2
    assert complaint in done.stderr
    assert "Traceback" not in done.stderr


# ---- plans -------------------------------------------------------------------------------------


@pytest.mark.parametrize("command", [("card",), ("hear", SPEECH), ("replay", SPEECH)])
def test_a_plan_that_is_not_there(command: tuple[str, ...], tmp_path: Path) -> None:
    name, *rest = command
    said = refusal(handsfree_here(name, tmp_path / "nowhere.toml", *rest))
    assert said == f"{tmp_path / 'nowhere.toml'}: there is no such plan file; check its name"


def test_an_unknown_key_gets_its_line_and_the_nearest_word(plan: Path) -> None:
    line = altered(plan, "order =", "ordr =")
    said = refusal(handsfree_here("card", plan))
    assert said == f'{plan}, line {line}, check[1].ordr: there is no key "ordr" here; did you mean "order"?'


def test_a_target_below_zero(plan: Path) -> None:
    line = altered(plan, 'aim = "18 thou"', 'aim = "-18 thou"')
    said = refusal(handsfree_here("card", plan))
    assert said == (
        f"{plan}, line {line}, check[1].target[1].aim: a gap of -18 thou isn't above zero; "
        "write what the gap is to become"
    )


def test_a_plan_that_is_no_toml(plan: Path) -> None:
    altered(plan, "[engine]", "[engine")
    said = refusal(handsfree_here("card", plan))
    assert said.startswith(f"{plan}")
    assert "line 6" in said


def test_a_plan_that_is_a_recording(wav: Path) -> None:
    said = refusal(handsfree_here("card", wav))
    assert said.startswith(f"{wav}")


# ---- sound -------------------------------------------------------------------------------------


def test_a_torn_recording_costs_only_itself(plan: Path, wav: Path) -> None:
    whole = wav.read_bytes()
    (wav.parent / "torn.wav").write_bytes(whole[: len(whole) // 2])
    (wav.parent / "empty.wav").write_bytes(b"")
    (wav.parent / "junk.wav").write_text("not a sound", "utf-8")
    names = ["torn.wav", "empty.wav", "junk.wav", "missing.wav", "whole.wav"]
    forms = objects(handsfree("replay", plan, *names, "--json", cwd=wav.parent))
    promised, found = len(whole) - 44, len(whole) // 2 - 44
    assert [form.get("fault") for form in forms] == [
        f'The recording "torn.wav" is torn: its header promises {promised:,} bytes of sound '
        f"and {found:,} are there; copy or record it again.",
        'The recording "empty.wav" is empty (0 bytes); record it again.',
        '"junk.wav" is not a sound file: wanted WAV, FLAC or OGG, found text that begins with "not a sound".',
        'There is no recording "missing.wav"; check the name.',
        None,
    ]
    assert forms[-1]["answer"] == "One top, sixteen. File two."


def test_hear_names_an_unreadable_recording_and_goes_on(plan: Path, wav: Path) -> None:
    (wav.parent / "junk.wav").write_text("not a sound", "utf-8")
    done = handsfree("hear", plan, "junk.wav", "whole.wav", "--json", cwd=wav.parent)
    assert [(form["file"], form["heard"]) for form in objects(done)] == [("whole.wav", "sixteen thou")]
    assert done.stderr.splitlines() == [
        '"junk.wav" is not a sound file: wanted WAV, FLAC or OGG, found text that begins with "not a sound".'
    ]


def test_a_list_that_is_not_there(plan: Path) -> None:
    said = refusal(handsfree("hear", plan, "@none.txt", cwd=plan.parent))
    assert said == "none.txt: there is no such list; check its name"


def test_keys_that_no_number_pad_has(plan: Path) -> None:
    (plan.parent / "odd.keys").write_text("16 Enter\n17 Return\n", encoding="utf-8")
    (form,) = objects(handsfree("replay", plan, "odd.keys", "--json", cwd=plan.parent))
    assert form["fault"] == (
        'key file "odd.keys", line 2: "R" is no key of a number pad; '
        "use the digits, . / * - + Enter and Num Lock"
    )


def test_keys_that_were_never_entered_are_told(plan: Path) -> None:
    (plan.parent / "odd.keys").write_text("16 Enter\n17\n", encoding="utf-8")
    reading, left = objects(handsfree("replay", plan, "odd.keys", "--json", cwd=plan.parent))
    assert [event["kind"] for event in reading["logged"]] == ["reading"]
    assert left["fault"] == 'the keys "17" at its end were not entered; end each entry with Enter'


def test_keys_that_mean_nothing_are_asked_for_again(plan: Path) -> None:
    (plan.parent / "odd.keys").write_text("9*1*18 Enter\n1..8 Enter\n16 Enter\n", encoding="utf-8")
    forms = objects(handsfree("replay", plan, "odd.keys", "--json", cwd=plan.parent))
    assert [form["outcome"] for form in forms] == ["ask", "ask", "accept"]
    assert [form["logged"] == [] for form in forms] == [True, True, False]
    assert "there is no cylinder 9 in this plan" in forms[0]["answer"]


def test_a_byte_order_mark_in_a_key_file_and_a_list_is_passed_over(plan: Path) -> None:
    mark = b"\xef\xbb\xbf"
    (plan.parent / "marked.keys").write_bytes(mark + b"16 Enter\r\n")
    (plan.parent / "list.txt").write_bytes(mark + b"marked.keys\r\n")
    (form,) = objects(handsfree("replay", plan, "@list.txt", "--json", cwd=plan.parent))
    assert form["answer"] == "One top, sixteen. File two."


@pytest.mark.parametrize("content", [b"bad\xe9.keys\n", b"a\0b.keys\n"])
def test_a_list_that_is_no_text_stops_before_the_session_begins(plan: Path, content: bytes) -> None:
    (plan.parent / "list.txt").write_bytes(content)
    done = handsfree("replay", plan, "@list.txt", "--journal", "s.journal", cwd=plan.parent)
    assert refusal(done).startswith("list.txt")
    assert done.stdout == ""
    assert not (plan.parent / "s.journal").exists()


@pytest.mark.skipif(sys.platform != "linux", reason="other systems have no such names")
def test_a_file_name_that_is_not_utf8_costs_nothing(plan: Path) -> None:
    """Neither its own readings nor those of the files after it; the log names it in plain letters."""
    name = os.fsdecode(b"caf\xe9.keys")
    (plan.parent / name).write_text("16 Enter\n", "utf-8")
    (plan.parent / "next.keys").write_text("17 Enter\n", "utf-8")
    none = os.fsdecode(b"n\xf6.wav")
    given = [name, none, "x" * 5000, "next.keys", "--journal", "s.journal"]
    forms = objects(handsfree("replay", plan, *given, "--json", cwd=plan.parent))
    assert [form["file"] for form in forms] == [r"caf\xe9.keys", r"n\xf6.wav", "x" * 5000, "next.keys"]
    assert [form.get("answer") for form in forms][::3] == [
        "One top, sixteen. File two.",
        "One top, seventeen. File one.",
    ]
    session = json.loads(handsfree("export", "s.journal", "--to", "json", cwd=plan.parent).stdout)
    assert json.dumps(r"caf\xe9.keys") in json.dumps(session)


@pytest.mark.parametrize("source", ["/dev/zero", "pipe"])
def test_a_file_without_an_end_is_refused_at_once(plan: Path, source: str) -> None:
    os.mkfifo(plan.parent / "pipe")
    (plan.parent / "endless.keys").symlink_to(source)
    assert "a device or a pipe" in refusal(handsfree("card", source, cwd=plan.parent))
    assert "a device or a pipe" in refusal(handsfree("hear", plan, f"@{source}", cwd=plan.parent))
    (form,) = objects(handsfree("replay", plan, "endless.keys", "--json", cwd=plan.parent))
    assert "a device or a pipe" in form["fault"]


def test_a_control_character_in_a_file_name_never_reaches_the_terminal(plan: Path) -> None:
    name = "odd\x1b[2J\u202e.keys"
    (plan.parent / name).write_text("16 Return\n", "utf-8")
    done = handsfree("replay", plan, name, "none\x1b[2J.wav", cwd=plan.parent)
    assert done.returncode == 0
    assert r"odd\x1b[2J\u202e.keys" in done.stdout
    assert not {"\x1b", "\u202e"} & set(done.stdout + done.stderr)
    assert "\x1b" not in refusal(handsfree_here("card", "none\x1b[2J"))


# ---- the standard streams, numbers, the clock ---------------------------------------------------


def in_shell(plan: Path, command: str) -> subprocess.CompletedProcess[str]:
    """Run a command line of the shell, in which streams can be closed."""
    line = f'"{sys.executable}" -m handsfree.cli {command}'
    env = os.environ | {"PYTHONPATH": str(ROOT)}
    return subprocess.run(
        ["sh", "-c", line], cwd=plan.parent, env=env, capture_output=True, text=True, timeout=120, check=False
    )


NOWHERE = (
    "handsfree: standard output can't be written (Bad file descriptor); "
    "send it to a terminal, a file or a pipe\n"
)


@pytest.mark.parametrize("command", ["card plan.toml", "--help", "plan show plan.toml"])
def test_closed_output_is_said_and_is_no_success(plan: Path, command: str) -> None:
    done = in_shell(plan, f"{command} >&-")
    assert (done.returncode, done.stderr) == (2, NOWHERE)


def test_closed_output_never_becomes_a_file_that_is_opened_later(plan: Path) -> None:
    (plan.parent / "one.keys").write_text("16 Enter\n", "utf-8")
    done = in_shell(plan, "replay plan.toml one.keys --json --journal s.journal <&- >&- 2>&-")
    assert done.returncode == 2
    code = "import os, sys; from handsfree.streams import ready_streams as r; r(); "
    code += "print(os.open(os.devnull, 0), file=sys.stderr)"
    line = f'"{sys.executable}" -c "{code}" <&- >&-'
    env = os.environ | {"PYTHONPATH": str(ROOT)}
    first = subprocess.run(["sh", "-c", line], env=env, capture_output=True, text=True, check=False)
    assert first.stderr == "3\n"


def test_closed_input_and_errors_stop_nothing(plan: Path) -> None:
    assert in_shell(plan, "card plan.toml <&-").stdout == handsfree_here("card", plan).stdout
    done = in_shell(plan, "card none.toml 2>&-")
    assert (done.returncode, done.stdout, done.stderr) == (2, "", "")


@pytest.mark.parametrize("encoding", ["ascii", "cp437"])
def test_a_letter_that_the_code_page_lacks_is_replaced(plan: Path, encoding: str) -> None:
    altered(plan, "Heron Lane, eight", "Ĥeron Läne, eight")
    line = [sys.executable, "-m", "handsfree.cli", "plan", "show", str(plan)]
    env = os.environ | {"PYTHONIOENCODING": encoding}
    done = subprocess.run(line, env=env, cwd=ROOT, capture_output=True, check=False)
    assert (done.returncode, done.stderr) == (0, b"")
    assert "Ĥeron Läne, eight".encode(encoding, "replace") in done.stdout


def test_json_is_ascii_whatever_the_code_page(plan: Path) -> None:
    (plan.parent / "größe.keys").write_text("16 Enter\n", "utf-8")
    env = {"PYTHONIOENCODING": "ascii"}
    (form,) = objects(handsfree("replay", plan, "größe.keys", "--json", cwd=plan.parent, env=env))
    assert form["file"] == "größe.keys"


@pytest.mark.parametrize(
    ("option", "given", "complaint"),
    [
        ("--rate", "9" * 5000, "is no whole number from 80 to 400"),
        ("--rate", "0", "is no whole number from 80 to 400"),
        ("--volume", "nan", "nan isn't from 0 to 1"),
        ("--volume", "loud", "invalid fraction value: 'loud'"),
    ],
)
def test_a_number_that_cannot_be_is_one_sentence(plan: Path, option: str, given: str, complaint: str) -> None:
    done = handsfree_here("bench", plan, "--plain", "--silent", "--no-microphone", option, given)
    assert done.returncode == 2
    assert complaint in done.stderr
    assert "Traceback" not in done.stderr
    assert len(done.stderr.splitlines()[-1]) < 1100


@pytest.mark.parametrize("port", ["9" * 5000, "²", "٣", "0", "65536", ""])
def test_a_port_that_cannot_be_is_refused(port: str) -> None:
    with pytest.raises(HandsfreeError, match="is no address for --web"):
        address_of(f"127.0.0.1:{port}")


def test_a_negative_seed_is_refused(tmp_path: Path) -> None:
    done = handsfree_here("score", tmp_path, "--seed", "-1")
    assert done.returncode == 2
    assert "seed" in done.stderr


def test_a_clock_before_1970_still_gives_ids_that_sort() -> None:
    """A machine whose clock was never set: RFC 9562 counts from 1970 and knows nothing before."""
    ids = Identities()
    times = [datetime(year, 1, 1, tzinfo=UTC) for year in (1901, 1969, 1970, 2026)]
    given = [ids.give(at) for at in times]
    assert given == sorted(set(given))


# ---- models ------------------------------------------------------------------------------------


VOSK = ("--recogniser", "vosk")


def test_a_vosk_model_without_asking_for_vosk(plan: Path) -> None:
    said = refusal(handsfree("hear", plan, SPEECH, "--model", plan.parent, cwd=plan.parent))
    assert said == (
        "--model names a Vosk model, and Vosk listens only when it is asked for; add --recogniser vosk"
    )


def test_a_model_folder_that_is_not_one(plan: Path) -> None:
    said = refusal(handsfree("hear", plan, SPEECH, *VOSK, "--model", plan.parent, cwd=plan.parent))
    assert said == (
        f'Wanted a Vosk model in the folder "{plan.parent}" (named), found a folder without one; '
        "name the unpacked folder, the one with am/final.mdl in it."
    )


def test_a_model_folder_with_nothing_real_in_it(plan: Path) -> None:
    (plan.parent / "model" / "am").mkdir(parents=True)
    (plan.parent / "model" / "am" / "final.mdl").write_bytes(b"not a model")
    said = refusal(handsfree("hear", plan, SPEECH, *VOSK, "--model", "model", cwd=plan.parent))
    assert said.startswith('The Vosk model in "model" can\'t be loaded')
    assert said.endswith("unpack it again.")


def test_vosk_without_a_model(plan: Path) -> None:
    said = refusal(handsfree("hear", plan, SPEECH, *VOSK, cwd=plan.parent))
    assert said == (
        'There is no Vosk model; "handsfree models get" fetches the small English one, '
        "or name a folder with --model or HANDSFREE_VOSK_MODEL."
    )


# ---- journals and outputs ----------------------------------------------------------------------


@pytest.fixture
def journal(plan: Path) -> Path:
    (plan.parent / "one.keys").write_text("16 Enter\n", encoding="utf-8")
    done = handsfree("replay", plan, "one.keys", "--journal", "s.journal", cwd=plan.parent)
    assert done.returncode == 0, done.stderr
    return plan.parent / "s.journal"


def test_a_journal_of_a_newer_version(plan: Path, journal: Path) -> None:
    with sqlite3.connect(journal) as database:
        (version,) = database.execute("PRAGMA user_version").fetchone()
        database.execute(f"PRAGMA user_version = {version + 1}")
    database.close()
    wanted = (
        f"{journal} was written by a newer handsfree (journal version {version + 1}, this one reads up to "
        f"{version}); update handsfree to open it."
    )
    assert refusal(handsfree("export", journal, "--to", "csv", cwd=plan.parent)) == wanted
    assert refusal(handsfree("replay", plan, "one.keys", "--journal", journal, cwd=plan.parent)) == wanted


def test_a_journal_that_is_not_there(tmp_path: Path) -> None:
    said = refusal(handsfree("export", "none.journal", "--to", "csv", cwd=tmp_path))
    assert said == f"There is no journal {tmp_path / 'none.journal'}; check the name."


def test_a_journal_that_is_something_else_is_left_as_it_is(plan: Path, wav: Path) -> None:
    before = wav.read_bytes()
    (plan.parent / "one.keys").write_text("16 Enter\n", encoding="utf-8")
    said = refusal(handsfree("replay", plan, "one.keys", "--journal", wav, cwd=plan.parent))
    assert said == f"{wav} is not a handsfree journal; it was left as it is: name another file."
    assert wav.read_bytes() == before


def test_a_journal_of_another_plan(plan: Path, journal: Path) -> None:
    altered(plan, '"18 thou"', '"17 thou"')
    done = handsfree("replay", plan, "one.keys", "--journal", journal, cwd=plan.parent)
    assert "plan" in refusal(done)


def test_an_export_into_a_folder_that_is_not_there(journal: Path) -> None:
    out = journal.parent / "none" / "s.csv"
    said = refusal(handsfree_here("export", journal, "--to", "csv", "--out", out))
    assert said == f'"{out}" can\'t be written: No such file or directory; name another file.'


@pytest.mark.skipif(not Path("/dev/full").exists(), reason="no /dev/full on this system")
def test_an_export_to_a_full_disk(journal: Path) -> None:
    said = refusal(handsfree_here("export", journal, "--to", "csv", "--out", "/dev/full"))
    assert said == '"/dev/full" can\'t be written: No space left on device; name another file.'


@pytest.mark.skipif(not Path("/dev/full").exists(), reason="no /dev/full on this system")
@pytest.mark.parametrize("command", ["export", "card"])
def test_standard_output_to_a_full_disk(plan: Path, journal: Path, command: str) -> None:
    arguments = [plan] if command == "card" else [journal, "--to", "json"]
    with Path("/dev/full").open("w") as full:
        done = subprocess.run(
            [sys.executable, "-m", "handsfree.cli", command, *arguments],
            stdout=full,
            stderr=subprocess.PIPE,
            text=True,
            cwd=ROOT,
            check=False,
        )
    assert done.returncode == 2
    assert done.stderr == "handsfree: the disk is full, so the output can't be written; free some space\n"


@pytest.fixture
def small_disk(tmp_path: Path) -> Iterator[Path]:
    """A disk of its own with room for a journal and little more."""
    disk = tmp_path / "disk"
    disk.mkdir()
    mounted = os.geteuid() == 0 and not subprocess.call(
        ["mount", "-t", "tmpfs", "-o", "size=96k", "tmpfs", disk], stderr=subprocess.DEVNULL
    )
    if not mounted:
        pytest.skip("needs the right to mount a tmpfs")
    yield disk
    subprocess.run(["umount", disk], check=True)


def test_a_disk_that_fills_loses_no_reading_and_says_what_is_not_logged(plan: Path, small_disk: Path) -> None:
    # more than the disk holds, whenever the log is brought over into the database and makes room for itself
    sizes = [f"{10 + n / 100:g}" for n in range(200)]
    (plan.parent / "many.keys").write_text("".join(f"{size} Enter\n" for size in sizes), "utf-8")
    journal = small_disk / "s.journal"
    done = handsfree("replay", plan, "many.keys", "--json", "--journal", journal, cwd=plan.parent)
    said = refusal(done)
    forms = [json.loads(line) for line in done.stdout.splitlines()]
    assert said.startswith(f"The disk is full, so the journal {journal} can't be written; free some space.")
    troubled = [form for form in forms if "The disk is full" in form["answer"]]
    assert 0 < len(troubled) < len(forms)
    assert f"the journal {journal} can't be written; free some space" in troubled[0]["answer"]
    assert troubled[0]["answer"].startswith("One top, ")
    full = handsfree("export", journal, "--to", "csv", cwd=plan.parent)
    subprocess.run(["mount", "-o", "remount,size=4m", small_disk], check=True)
    (plan.parent / "none.keys").write_text("", "utf-8")
    taken_in = handsfree("replay", plan, "none.keys", "--journal", journal, cwd=plan.parent)
    assert taken_in.returncode == 0, taken_in.stderr
    for exported in (full, handsfree("export", journal, "--to", "csv", cwd=plan.parent)):
        assert exported.returncode == 0, exported.stderr
        rows = list(csv.DictReader(io.StringIO(exported.stdout)))
        assert [row["value"] for row in rows] == sizes
    assert not list((plan.parent / "state").rglob("*.unsaved"))


def test_a_journal_that_may_not_grow_keeps_its_readings_beside_it(plan: Path) -> None:
    # enough for the limit below, and few enough that they fit under it in the file beside the journal
    (plan.parent / "many.keys").write_text("16 Enter\n" * 50, "utf-8")
    journal = plan.parent / "s.journal"
    done = subprocess.run(
        [sys.executable, "-m", "handsfree.cli", "replay", plan, "many.keys", "--journal", journal],
        capture_output=True,
        text=True,
        cwd=plan.parent,
        env={**os.environ, "PYTHONPATH": str(ROOT), "XDG_STATE_HOME": str(plan.parent / "state")},
        # less than the database itself comes to, so that bringing the log over can't make room in it
        preexec_fn=lambda: resource.setrlimit(resource.RLIMIT_FSIZE, (33 * 1024, 33 * 1024)),
        check=False,
    )
    assert "aren't in it yet, but kept in" in refusal(done)
    exported = handsfree("export", journal, "--to", "csv", cwd=plan.parent)
    assert len(exported.stdout.splitlines()) == 51


def test_a_folder_for_answers_that_is_a_file(plan: Path, wav: Path) -> None:
    said = refusal(handsfree("replay", plan, wav, "--say", wav, cwd=plan.parent))
    assert said == f'can\'t make the folder "{wav}": File exists; choose another'
