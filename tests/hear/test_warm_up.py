"""Warming up: what the first phrases would take, in time and memory, is taken before anybody speaks."""

from __future__ import annotations

import re
import subprocess
import sys
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[2]
MEASURE = """
import sys
from pathlib import Path
from handsfree.hear import read_sound, Utterance
from handsfree.ears import Choice, Recognisers, warm_up
from handsfree.planfile import load_plan

def own_mb():
    text = Path("/proc/self/smaps_rollup").read_text()
    return next(int(line.split()[1]) for line in text.splitlines() if line.startswith("Pss_Anon")) / 1024

plan = load_plan(Path("demo/plan.toml"))
recogniser = Recognisers(plan, Choice.PHRASE).ear(plan.checks[0].name).recogniser
if "warm" in sys.argv:
    warm_up(recogniser)
before = own_mb()
for path in sorted(Path("audio_fixtures/kokoro-af_heart").glob("0*.ogg")):
    sound = read_sound(path)
    recogniser.hear(Utterance(sound, 0, len(sound) / 16_000))
print("grew", own_mb() - before)
"""


def _growth_mb(*arguments: str) -> float:
    command = [sys.executable, "-c", MEASURE, *arguments]
    done = subprocess.run(command, cwd=ROOT, check=True, capture_output=True, text=True, timeout=300)
    return float(re.findall(r"grew (\S+)", done.stdout)[0])


@pytest.mark.skipif(
    not Path("/proc/self/smaps_rollup").exists(), reason="this system doesn't say what is used"
)
def test_after_warming_up_the_first_phrases_take_little_more_memory() -> None:
    cold, warm = _growth_mb(), _growth_mb("warm")
    assert warm < cold / 2, (cold, warm)
