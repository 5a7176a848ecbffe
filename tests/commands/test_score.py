"""`handsfree score`: real recordings, and folders that can't be scored."""

from __future__ import annotations

import csv
import shutil
from pathlib import Path

import pytest

from handsfree.commands.score import check_of, conditions_of
from handsfree.errors import PlanError, ScoreError
from handsfree.length import Unit, length
from handsfree.planfile import load_plan, parse_plan
from handsfree.recordings import Condition, ManifestRow, read_manifest, wilson
from handsfree.recordings.manifest import plan_text_of
from handsfree.recordings.noise import KINDS
from tests.support.program import PLAN, ROOT, handsfree, handsfree_here, objects, refusal

FIXTURES = ROOT / "audio_fixtures"
HEADER = "file,voice,kind,text,cylinder,ring,value,unit\n"
# One of each kind, of two held-out voices.
FILES = ("kokoro-bm_lewis/01.ogg", "kokoro-bm_lewis/17.ogg", "piper-joe/25.ogg", "piper-joe/33.ogg")


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    """A small folder of the project's own recordings."""
    with (FIXTURES / "manifest.csv").open(encoding="utf-8", newline="") as file:
        rows = {row["file"]: row for row in csv.DictReader(file)}
    names = list(next(iter(rows.values())))
    for name in FILES:
        (tmp_path / name).parent.mkdir(exist_ok=True)
        shutil.copy(FIXTURES / name, tmp_path / name)
    with (tmp_path / "manifest.csv").open("w", encoding="utf-8", newline="") as file:
        out = csv.DictWriter(file, names)
        out.writeheader()
        out.writerows(rows[name] for name in FILES)
    return tmp_path


def test_a_folder_is_scored_without_a_plan_in_every_noise_that_was_asked_for(folder: Path) -> None:
    (form,) = objects(
        handsfree("score", folder, "--noise", "none", "--noise", "pink", "--snr", "20", "--json", cwd=folder)
    )
    assert (form["recordings"], form["voices"], form["plan"]) == (4, 2, "made from the manifest")
    assert form["recogniser"].startswith("phrase/")
    assert form["adapted"] is False
    assert form["commands"]["total"] == 6
    assert form["commands"]["right"] + form["commands"]["asked"] == 6
    assert form["commands"]["right"] >= 5
    assert form["commands"]["right_interval"] == [
        round(limit, 5) for limit in wilson(form["commands"]["right"], 6)
    ]
    assert form["chatter"]["total"] == 2
    assert form["chatter"]["wrong"] == 0
    assert set(form["by_noise"]) == {"none", "pink 20 dB"}
    assert set(form["by_voice"]) == {"kokoro-bm_lewis", "piper-joe"}
    assert set(form["by_kind"]) == {"reading", "bare", "word", "chatter"}
    assert 0 < form["decode_ms_p50"] <= form["decode_ms_p95"]
    assert form["real_time_factor"] > 0
    assert form["peak_memory_mb"] is None or form["peak_memory_mb"] > 50
    assert form["not_in_grammar"] == []


def test_people_get_a_table(folder: Path) -> None:
    done = handsfree("score", folder, "--plan", PLAN, "--voice", "kokoro-bm_lewis", cwd=folder)
    assert done.returncode == 0, done.stderr
    assert f"plan {PLAN}, check ring gaps; recogniser phrase/" in done.stdout
    assert "accepted right" in done.stdout
    assert "  kokoro-bm_lewis" in done.stdout
    assert "Wilson interval" in done.stdout
    assert "of real time" in done.stdout
    assert "piper-joe" not in done.stdout


@pytest.mark.quick
@pytest.mark.parametrize(
    ("arguments", "said"),
    [
        (("--noise", "thunder", "--snr", "10"), "noise 'thunder' is none of none, pink, compressor"),
        (("--noise", "pink"), "noise 'pink' needs a signal-to-noise ratio; add one in dB, such as 15"),
        (("--snr", "10"), "a ratio was given and no noise; add one, such as --noise pink"),
        (("--voice", "piper-jo"), 'has no voice "piper-jo"; did you mean "piper-joe"?'),
        (("--plan", "nowhere.toml"), "nowhere.toml: there is no such plan file; check its name"),
        (("--check", "ring gap"), '"ring gap" is no check of Recordings; did you mean "ring gaps"?'),
    ],
)
def test_bad_usage_gets_one_sentence(folder: Path, arguments: tuple[str, ...], said: str) -> None:
    assert said in refusal(handsfree_here("score", folder, *arguments))


@pytest.mark.quick
@pytest.mark.parametrize("ratio", ["loud", "nan", "inf"])
def test_a_ratio_that_is_no_number_is_bad_usage(folder: Path, ratio: str) -> None:
    done = handsfree_here("score", folder, "--noise", "pink", "--snr", ratio)
    assert done.returncode == 2
    assert "argument --snr" in done.stderr


@pytest.mark.quick
@pytest.mark.parametrize(
    ("text", "said"),
    [
        (None, "has no manifest.csv; make one with the columns file, voice, kind"),
        ("", "no column 'file'; it needs file, voice, kind, text, cylinder, ring, value, unit"),
        ("file,voice,kind,text,cilinder,ring,value,unit\n", "no column 'cylinder'; it needs"),
        (HEADER, "manifest.csv has no rows to score"),
        (f"{HEADER}a.wav,me,word,next,,,,\n", "a.wav is named in the manifest but isn't there"),
        (
            f"{HEADER}a.wav,me,shout,next,,,,\n",
            "line 2: kind 'shout' is none of reading, bare, word",
        ),
        (f"{HEADER}a.wav,me,bare,eighteen,,,lots,thou\n", "line 2: 'lots' 'thou' is no length"),
        (f"{HEADER.strip()},place\na.wav,me,word,main two,,,,,main 2\n", "line 2: 'main 2' names no place"),
    ],
)
def test_a_folder_that_cannot_be_scored_gets_one_sentence(
    tmp_path: Path, text: str | None, said: str
) -> None:
    if text is not None:
        (tmp_path / "manifest.csv").write_text(text, encoding="utf-8")
    assert said in refusal(handsfree_here("score", tmp_path))


def test_a_recording_that_is_torn_is_named(folder: Path) -> None:
    path = folder / FILES[2]
    path.write_bytes(path.read_bytes()[:40])
    assert f'"{path}" begins as OGG does and is then torn' in refusal(handsfree("score", folder, cwd=folder))


@pytest.mark.quick
def test_conditions_are_every_noise_at_every_ratio_and_quiet_once() -> None:
    assert conditions_of(None, None) == [Condition()]
    assert conditions_of(["none", "pink", "babble", "pink"], [10.0, 5.0]) == [
        Condition(), Condition("pink", 10.0), Condition("pink", 5.0), Condition("babble", 10.0),
        Condition("babble", 5.0),
    ]  # fmt: skip
    assert conditions_of(["room"], None) == [Condition("room")]
    with pytest.raises(ScoreError, match="was given and no noise"):
        conditions_of(["none"], [10.0])
    assert all(conditions_of([kind], [10.0]) for kind in KINDS if kind != "none")


def plan_of(rows: list[ManifestRow]):
    return parse_plan(plan_text_of(Path("somewhere"), rows))


@pytest.mark.quick
def test_a_plan_made_from_a_manifest_holds_its_places_and_none_of_its_values() -> None:
    made = plan_of(read_manifest(FIXTURES))
    (check,) = made.checks
    assert {axis.name: axis.labels for axis in check.axes} == {
        "cylinder": tuple("12345678"), "ring": ("top", "second"),
    }  # fmt: skip
    other = [
        ManifestRow("a.wav", "me", "bare", "x", value=length("99")),
        ManifestRow("b.wav", "me", "chatter", "y"),
    ]
    assert plan_of(other).checks[0].windows == check.windows


@pytest.mark.quick
def test_a_plan_made_from_a_manifest_takes_more_cylinders_other_rings_and_millimetres() -> None:
    made = plan_of([ManifestRow("a.wav", "me", "reading", "x", "12", "oil rail", length("0.45", Unit.MM))])
    (check,) = made.checks
    assert check.unit is Unit.MM
    assert {axis.name: axis.labels for axis in check.axes} == {
        "cylinder": tuple(map(str, range(1, 13))), "ring": ("top", "second", "oil rail"),
    }  # fmt: skip
    named = plan_of([ManifestRow("a.wav", "me", "reading", "x", "left", "top", length("18"))])
    assert named.checks[0].axes[0].labels == ("left",)


@pytest.mark.quick
@pytest.mark.parametrize(
    ("row", "said"),
    [
        (ManifestRow("a.wav", "me", "bare", "x", value=length("4.03", Unit.INCH)), "values in in"),
        (
            ManifestRow("a.wav", "me", "reading", "x", value=length("18"), place=(("main", "2"),)),
            "main in a.wav",
        ),
    ],
)
def test_a_manifest_of_other_checks_needs_its_plan(row: ManifestRow, said: str) -> None:
    with pytest.raises(ScoreError, match=f"{said}.*name its plan with --plan"):
        plan_of([row])


@pytest.mark.quick
def test_the_check_that_holds_what_the_rows_say_is_listened_for() -> None:
    plan = load_plan(ROOT / "demo" / "build" / "plan.toml")
    mains = ManifestRow(
        "a.wav", "me", "reading", "main two journal, fifty nine point nine eight", None, None, length("1")
    )
    assert check_of(plan, None, [mains]).name == "main bearings"
    assert check_of(plan, None).name == plan.checks[0].name
    assert check_of(plan, "valve lash", [mains]).name == "valve lash"
    with pytest.raises(PlanError, match='did you mean "valve lash"'):
        check_of(plan, "valve lush")
