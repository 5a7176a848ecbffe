"""Measured tables say where they are from, and those of the ears are of the encoder that is shipped."""

from __future__ import annotations

import hashlib
import json
import re
import subprocess
from datetime import UTC, date, datetime
from pathlib import Path

import pytest

from tests.measure import results
from tests.measure.results import ENCODER, OF_ITS_COST, OF_THE_EARS, ORIGIN, keep
from tests.support.program import ROOT

pytestmark = pytest.mark.quick

MEASURE = ROOT / "tests" / "measure"
TABLES = sorted(MEASURE.glob("*.md"))
HEARD = {path.stem for path in TABLES if path.stem in OF_THE_EARS or "; encoder " in path.read_text("utf-8")}
HEARD -= set(OF_ITS_COST)

# Tables older than the shipped encoder that are still to be measured anew: the mark says which and why.
_BEFORE = "last measured with the encoder before the shipped one"
TO_BE_MEASURED_ANEW: dict[str, str] = {}


def origin_of(table: Path) -> re.Match[str]:
    last = table.read_text("utf-8").rstrip("\n").splitlines()[-1]
    found = ORIGIN.fullmatch(last)
    assert found, f"{table.name} ends in {last!r}, which doesn't say where the table is from"
    return found


@pytest.mark.parametrize("table", TABLES, ids=lambda path: path.stem)
def test_a_table_ends_in_its_date_commit_and_machine(table: Path) -> None:
    found = origin_of(table)
    assert date(2026, 11, 1) <= date.fromisoformat(found["date"]) <= datetime.now(UTC).date()
    assert len(ORIGIN.findall(table.read_text("utf-8"))) == 1


@pytest.mark.parametrize(
    "name",
    [
        pytest.param(name, marks=[pytest.mark.xfail(reason=TO_BE_MEASURED_ANEW[name])])
        if name in TO_BE_MEASURED_ANEW
        else name
        for name in sorted(HEARD)
    ],
)
def test_a_table_of_the_ears_names_the_shipped_encoder(name: str) -> None:
    shipped = hashlib.sha256(ENCODER.read_bytes()).hexdigest()
    named = origin_of(MEASURE / f"{name}.md")["encoder"]
    assert named, "it names no encoder"
    assert shipped.startswith(named), f"measure it anew: python -m tests.measure.{name} --write"


@pytest.mark.skipif(not (ROOT / ".git").exists(), reason="not a checkout")
def test_a_kept_table_ends_in_its_origin_and_names_the_encoder_where_the_ears_were_at_work(
    tmp_path: Path,
) -> None:
    keep("heard", [{"right": 1}], "| a |\n| --- |\n| 1 |", "A note.", folder=tmp_path)
    keep("filed", None, "| a |\n| --- |\n| 1 |\n", ears=False, folder=tmp_path)
    assert json.loads((tmp_path / "heard.json").read_text("utf-8")) == [{"right": 1}]
    assert not (tmp_path / "filed.json").exists()
    assert "\n\nA note.\n\nMeasured " in (tmp_path / "heard.md").read_text("utf-8")
    heard, filed = origin_of(tmp_path / "heard.md"), origin_of(tmp_path / "filed.md")
    assert heard["encoder"] == hashlib.sha256(ENCODER.read_bytes()).hexdigest()[:12]
    assert filed["encoder"] is None
    head = subprocess.run(
        ["git", "-C", ROOT, "rev-parse", "HEAD"], capture_output=True, text=True, check=True
    )
    assert head.stdout.startswith(heard["commit"])
    assert "VNNI" in heard["machine"]


def test_every_script_that_writes_a_table_writes_it_by_the_one_function() -> None:
    scripts = [path for path in MEASURE.glob("*.py") if path.stem != "results"]
    by_hand = re.compile(r'\.md"\)?\)?\.write_text|with_suffix\("\.md"\)|HERE.*\.md')
    assert len(scripts) > 15
    assert [path.name for path in scripts if by_hand.search(path.read_text("utf-8"))] == []
    writers = {
        path.stem
        for path in scripts
        if re.search(rf'\b(keep|leave)\(\s*"{path.stem}"', path.read_text("utf-8"))
    }
    unnamed = re.compile(r"^ +leave\((?!\")", re.MULTILINE)
    assert [path.name for path in scripts if unnamed.search(path.read_text("utf-8"))] == []
    assert {path.stem for path in TABLES} <= writers
    assert set(OF_THE_EARS) <= writers


def test_the_commit_is_marked_where_code_differs_from_it(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def git(*words: str) -> None:
        who = ["-c", "user.name=A", "-c", "user.email=a@b.invalid"]
        subprocess.run(["git", "-C", tmp_path, *who, *words], check=True, capture_output=True)

    git("init", "-q")
    (tmp_path / "code.py").write_text("1\n", "utf-8")
    (tmp_path / "table.md").write_text("1\n", "utf-8")
    git("add", ".")
    git("commit", "-q", "-m", "one")
    monkeypatch.setattr(results, "ROOT", tmp_path)
    (tmp_path / "table.md").write_text("2\n", "utf-8")
    assert "with changes" not in results.origin(ears=False)
    (tmp_path / "code.py").write_text("2\n", "utf-8")
    marked = results.origin(ears=False)
    assert "with changes" in marked
    assert ORIGIN.fullmatch(marked)
