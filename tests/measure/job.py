"""Duration of a whole job by voice: sixteen rings, 32 readings, on a virtual sound card.

Runs `handsfree bench` with terse answers, says each ring's two readings with one voice of flite, and waits
for the end of each answer before the next one. Both sides are on one recording, so that it can be told
where the time goes: speaking, waiting for the answer, and listening to it.

    python -m tests.measure.job [--voice slt] [--answers terse] [--rate WPM] [--write]

With --write it leaves job.json and job.md beside itself.
"""

from __future__ import annotations

import argparse
import os
import subprocess
import tempfile
import time
from pathlib import Path
from statistics import median
from typing import Any

import numpy as np
import soundfile

from handsfree.session import read
from tests.measure.latency import FLOOR, WAIT_S, played, side
from tests.measure.live import add_results_options, leave, start_plain
from tests.support.room import RATE_HZ, Room, write_wav

SHORT = ("sixteen thou", "sixteen and a half thou", "seventeen thou", "fifteen and a half thou")
GOOD = ("nineteen thou", "nineteen and a half thou", "nineteen and a quarter thou", "nineteen thou")
SECONDS_SHORT = ("eighteen thou", "eighteen and a half thou", "nineteen thou", "seventeen thou")
SECONDS_GOOD = ("twenty one thou", "twenty and a half thou", "twenty one thou", "twenty one and a half thou")
READY_S = 16.0


def readings() -> list[str]:
    """Return the phrases in order: each ring short, then good."""
    said = []
    for number in range(16):
        short, good = (SHORT, GOOD) if number < 8 else (SECONDS_SHORT, SECONDS_GOOD)
        said += [short[number % 4], good[number % 4]]
    return said


def spoken_by(voice: str, text: str, folder: Path) -> Path:
    """Render a reading with flite, its silence at both ends taken off."""
    raw = folder / "raw.wav"
    subprocess.run(["flite", "-voice", voice, "-t", text, "-o", str(raw)], check=True)
    samples, rate = soundfile.read(str(raw), dtype="int16")
    loud = np.flatnonzero(np.abs(samples.astype(int)) > FLOOR)
    return write_wav(folder / "reading.wav", samples[loud[0] : loud[-1] + 1], rate)


def measure(voice: str, *options: str) -> dict[str, Any]:
    """Do the job and time it."""
    turns = []
    with Room() as room, tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        os.environ["XDG_DATA_HOME"] = str(folder)  # the rate that somebody set here doesn't count
        process = start_plain(room, folder, *options)
        time.sleep(READY_S)
        with room.recording() as recording:
            began_s = time.monotonic()
            for text in readings():
                since = recording.path.stat().st_size // 4
                room.say(spoken_by(voice, text, folder))
                until = time.monotonic() + WAIT_S
                first, over = played(recording, since)
                while not over and time.monotonic() < until:
                    time.sleep(0.02)
                    first, over = played(recording, since)
                if first is None:
                    continue
                mine = np.flatnonzero(np.abs(side(recording, 0, since, first).astype(int)) > FLOOR)
                answer = np.flatnonzero(np.abs(side(recording, 1, since).astype(int)) > FLOOR)
                if not len(mine):  # something else was still being said: the machine is too busy to time it
                    continue
                spoke, ended = int(mine[-1]), int(answer[-1])
                turns.append(
                    (
                        text,
                        (spoke - mine[0]) / RATE_HZ,
                        (first - since - spoke) / RATE_HZ,
                        (ended - spoke) / RATE_HZ,
                    )
                )
            job_s = time.monotonic() - began_s
        process.terminate()
        process.wait(timeout=20)
        session = read(folder / "log.journal").session
    logged = [str(entry.value) for entry in session.log()]
    short, good = ([turn[3] for turn in turns[first::2]] for first in (0, 1))
    return {
        "readings": len(readings()),
        "answered": len(turns),
        "logged": len(logged),
        "job_s": round(job_s, 1),
        "speaking_s": round(sum(turn[1] for turn in turns), 1),
        "waiting_s": round(sum(turn[2] for turn in turns), 1),
        "listening_s": round(sum(turn[3] - turn[2] for turn in turns), 1),
        "short_median_s": round(median(short), 2),
        "good_median_s": round(median(good), 2),
        "load_average": os.getloadavg()[0],
        "cores": os.cpu_count(),
        "options": " ".join(options),
        "voice": voice,
    }


def table(result: dict[str, Any]) -> str:
    """Write the result as a Markdown table."""
    rows = [
        (f"{result['readings']} readings: answered, logged", f"{result['answered']}, {result['logged']}"),
        ("the whole job", f"{result['job_s']:.0f} s"),
        (
            "of that speaking, waiting, listening",
            " ".join(f"{result[k]:.0f} s" for k in ("speaking_s", "waiting_s", "listening_s")),
        ),
        (
            "from the end of speech to the end of the answer, short, median",
            f"{result['short_median_s']:.1f} s",
        ),
        ("the same, good", f"{result['good_median_s']:.1f} s"),
    ]
    lines = [
        "| sixteen rings by voice | |",
        "| --- | --- |",
        *[f"| {name} | {value} |" for name, value in rows],
    ]
    note = (
        f"The rest is the pause before the next reading. Voice {result['voice']} of flite, "
        f"`{result['options']}`; load average at the end {result['load_average']:.1f} "
        f"on {result['cores']} cores."
    )
    return "\n".join([*lines, "", note]) + "\n"


def main() -> None:
    """Measure and print."""
    parser = argparse.ArgumentParser()
    parser.add_argument("--voice", default="slt")
    parser.add_argument("--answers", default="terse")
    parser.add_argument("--rate", type=int)
    add_results_options(parser)
    options = parser.parse_args()
    rate = ["--rate", str(options.rate)] if options.rate else []
    leave("job", measure(options.voice, "--answers", options.answers, *rate), table, options)


if __name__ == "__main__":
    main()
