"""SIGKILL at any instant loses no acknowledged reading and doubles none; no flipped bit passes unseen."""

import json
import os
import subprocess
import sys
from pathlib import Path

import pytest

# By hand: HANDSFREE_KILLS=1000 for each trouble, HANDSFREE_FLIPS=500.
KILLS = int(os.environ.get("HANDSFREE_KILLS", "30"))
FLIPS = int(os.environ.get("HANDSFREE_FLIPS", "60"))
HERE = Path(__file__).parent


def run(script, *arguments):
    done = subprocess.run(
        [sys.executable, HERE / script, *map(str, arguments)], capture_output=True, text=True, check=False
    )
    assert done.returncode == 0, done.stderr
    return json.loads(done.stdout)


@pytest.mark.skipif(not hasattr(os, "fork"), reason="needs fork and SIGKILL")
@pytest.mark.parametrize("trouble", ["none", "two", "lock", "full"])
def test_killed_at_random_instants_nothing_acknowledged_is_lost_doubled_or_reordered(tmp_path, trouble):
    counts = run("kill_and_reopen.py", tmp_path, KILLS, 20261125, trouble)
    assert counts["kills"] == KILLS * (2 if trouble == "two" else 1)
    logged = counts["acknowledged"] + (counts["unsaved"] if trouble == "lock" else 0)
    assert logged > KILLS / 3  # or kept beside the journal while another program held it
    assert {name: counts[name] for name in ("lost", "doubled", "reordered", "broken")} == dict.fromkeys(
        ("lost", "doubled", "reordered", "broken"), 0
    )
    if trouble == "two":
        assert counts["second_wrote"]


def test_every_flip_that_alters_or_cuts_off_a_reading_is_found(tmp_path):
    counts = run("flips.py", tmp_path, FLIPS, 7)
    assert counts["cases"] == FLIPS
    assert counts["found"] > FLIPS / 3  # the bits did matter
    assert counts["wrong"] == []
