"""Cost of starting to hear: cold start, memory, and the time for a phrase of three seconds.

    python -m tests.measure.start            prints the table; about a minute
    python -m tests.measure.start --write    and writes tests/measure/start.json and start.md

Each start is a process of its own with one recording of about three seconds. The load of the machine is
written down beside the times: on a busy machine they mean little.
"""

from __future__ import annotations

import argparse
import json
import os
import platform
import statistics
import subprocess
import sys
import tempfile
import time
from pathlib import Path

import numpy as np

from handsfree.hear import read_sound
from handsfree.hear.sound import write_wav
from tests.measure.results import keep

ROOT = Path(__file__).parents[2]
HERE = Path(__file__).parent
PLAN = ROOT / "demo" / "plan.toml"
FIXTURES = ROOT / "audio_fixtures"
SAMPLERATE_HZ = 16_000
STARTS = 7
PHRASES = 60


def three_second_files(folder: Path) -> list[Path]:
    """Trim or pad fixtures of 2.6 to 3.4 s to three seconds, and return their paths."""
    found = []
    for path in sorted(FIXTURES.glob("*/*.ogg")):
        samples = read_sound(path)
        if 2.6 <= len(samples) / SAMPLERATE_HZ <= 3.4:
            exact = np.resize(np.pad(samples, (0, SAMPLERATE_HZ)), 3 * SAMPLERATE_HZ)
            write_wav(folder / f"{len(found):03d}.wav", exact)
            found.append(folder / f"{len(found):03d}.wav")
        if len(found) == PHRASES:
            break
    return found


def hear(*files: Path) -> tuple[float, int, list[dict[str, object]]]:
    """Run `handsfree hear` on files: wall time in s, peak resident memory in bytes, the objects."""
    command = [sys.executable, "-m", "handsfree.cli", "hear", str(PLAN), "--json", "--recogniser", "phrase"]
    began = time.perf_counter()
    with subprocess.Popen(
        [*command, *map(str, files)], stdout=subprocess.PIPE, text=True, cwd=ROOT
    ) as process:
        assert process.stdout is not None
        lines = process.stdout.read().splitlines()
        _, status, used = os.wait4(process.pid, 0)
        process.returncode = os.waitstatus_to_exitcode(status)
    return time.perf_counter() - began, used.ru_maxrss * 1024, [json.loads(line) for line in lines]


def main() -> None:
    """Measure and print."""
    parser = argparse.ArgumentParser(
        description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter
    )
    parser.add_argument("--write", action="store_true", help="write start.json and start.md beside this file")
    options = parser.parse_args()
    with tempfile.TemporaryDirectory() as folder:
        files = three_second_files(Path(folder))
        hear(files[0])  # once, so that the disk's cache is warm
        load = os.getloadavg()[0]
        starts = [hear(path) for path in files[:STARTS]]
        _, resident, forms = hear(*files)
    decoding = [float(str(form["decode_ms"])) / 1000 for form in forms if form["heard"]]
    facts = {
        "cold start, median s": round(statistics.median(took for took, _, _ in starts), 2),
        "cold start, worst s": round(max(took for took, _, _ in starts), 2),
        "peak resident memory, one phrase, MB": round(max(rss for _, rss, _ in starts) / 1e6),
        f"peak resident memory, {len(files)} phrases, MB": round(resident / 1e6),
        "decoding a phrase of 3 s, p50 ms": round(1000 * statistics.median(decoding)),
        "decoding a phrase of 3 s, p95 ms": round(1000 * float(np.percentile(decoding, 95))),
        "decoding, share of real time, p50": round(statistics.median(decoding) / 3, 3),
        "phrases": len(decoding),
        "load before": round(load, 2),
        "cores": os.cpu_count(),
        "machine": f"{platform.machine()}, Python {platform.python_version()}",
    }
    table = [
        "| what | figure |",
        "| --- | --- |",
        *(f"| {name} | {figure} |" for name, figure in facts.items()),
    ]
    print("\n".join(table))
    if options.write:
        keep("start", facts, "\n".join(table))


if __name__ == "__main__":
    main()
