"""The program with all taken away that Windows lacks, a stand-in for a machine that isn't here.

`tests/support/windows_stand_in.py` says what it shows and what it doesn't.
"""

import csv
import json
import os
import subprocess
import sys

import pytest

from tests.support.program import PLAN, RECORDINGS, ROOT

MARK = b"\xef\xbb\xbf"  # Notepad begins a file with it


def stand_in(*arguments, cwd):
    done = subprocess.run(
        [sys.executable, "-m", "tests.support.windows_stand_in", *map(str, arguments)],
        cwd=cwd,
        env=os.environ
        | {"PYTHONPATH": str(ROOT), "XDG_STATE_HOME": str(cwd / "state"), "XDG_DATA_HOME": str(cwd / "data")},
        stdin=subprocess.DEVNULL,
        capture_output=True,
        encoding="cp1252",
        timeout=300,
        check=False,
    )
    assert done.returncode == 0, done.stderr
    return done.stdout


def test_modules_session_journal_and_exports_need_nothing_that_windows_lacks(tmp_path):
    plan, keys, log = tmp_path / "plan.toml", tmp_path / "a.keys", tmp_path / "a.journal"
    text = PLAN.read_text("utf-8").replace('name = "', 'name = "\u017bubr, 8 \u2013 na\u00efve, ', 1)
    plan.write_bytes(MARK + text.replace("\n", "\r\n").encode())
    keys.write_bytes(MARK + b"Enter 1*1*15 Enter\r\n")
    said = stand_in(
        *("modules", ","),
        *("replay", plan, keys, RECORDINGS / "02-michael.ogg", "--journal", log),
        *(",", "journal", "show", log),
        *(",", "journal", "verify", log),
        *(",", "export", log, "--to", "csv", "--out", tmp_path / "a.csv"),
        *(",", "export", log, "--to", "json", "--out", tmp_path / "a.json"),
        *(",", "card", plan),
        cwd=tmp_path,
    )
    there = [path for path in (ROOT / "handsfree").rglob("*.py") if "training" not in path.parts]
    assert f"{len(there) - 1} modules" in said  # all but the package itself
    assert said.count("status 0") == 6, said
    assert "?ubr, 8 \u2013 na\u00efve" in said  # a letter that the code page lacks costs that letter
    assert "sixteen thou" in said
    with (tmp_path / "a.csv").open(encoding="utf-8", newline="") as file:
        assert [row["value"] for row in csv.DictReader(file)] == ["15", "16"]
    assert "\u017bubr" in json.loads((tmp_path / "a.json").read_text("utf-8"))["plan"]["name"]


@pytest.mark.quick
def test_commands_are_told_apart_by_commas():
    from tests.support.windows_stand_in import commands

    assert commands(["card", "a b", ",", "check"]) == [["card", "a b"], ["check"]]
