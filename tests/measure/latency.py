"""Latency from the last speech sample to the first sample of the answer.

Runs `handsfree bench` with its display in a terminal of its own, in a room made of PulseAudio's
null sinks, plays recorded phrases into the microphone's side, and reads the times off one recording
that holds both sides sample for sample. Every answer begins with its tone, which counts as its first
sample.

    python -m tests.measure.latency [--phrases 200] [--write]

With --write it leaves latency.json and latency.md beside itself.
"""

from __future__ import annotations

import argparse
import contextlib
import csv
import fcntl
import json
import os
import pty
import random
import struct
import subprocess
import sys
import tempfile
import termios
import threading
import time
from pathlib import Path
from typing import Any

import numpy as np

ROOT = Path(__file__).parents[2]
sys.path.insert(0, str(ROOT))

from handsfree.hear import read_sound  # noqa: E402
from tests.measure.live import add_results_options, leave  # noqa: E402
from tests.measure.results import processor  # noqa: E402
from tests.support.room import RATE_HZ, Recording, Room, write_wav  # noqa: E402

FLOOR = 150  # of int16: what counts as sound in a room without any noise
WAIT_S = 4.0


def phrases(count: int, seed: int) -> list[Path]:
    """Recorded readings in several voices, in a fixed random order."""
    folder = ROOT / "audio_fixtures"
    with (folder / "manifest.csv").open(encoding="utf-8", newline="") as file:
        rows = [row for row in csv.DictReader(file) if row["kind"] in {"reading", "bare"}]
    random.Random(seed).shuffle(rows)
    paths = [folder / row["file"] for row in rows]
    return [paths[n % len(paths)] for n in range(count)]


def start(room: Room, folder: Path) -> tuple[subprocess.Popen[bytes], int]:
    """Start the bench with its display on a terminal of 80 by 24."""
    parent, child = pty.openpty()
    fcntl.ioctl(child, termios.TIOCSWINSZ, struct.pack("HHHH", 24, 80, 0, 0))
    command = [
        *[sys.executable, "-m", "handsfree.cli", "bench", str(ROOT / "demo/plan.toml")],
        *["--journal", str(folder / "log.journal"), "--timings", str(folder / "timings")],
        *["--recogniser", "phrase", "--no-adapt", "--answers", "terse", "--rate", "300"],
    ]
    env = room.env | {"TERM": "xterm-256color", "PYTHONPATH": str(ROOT), "XDG_CACHE_HOME": str(folder)}
    process = subprocess.Popen(
        command, stdin=child, stdout=child, stderr=child, env=env, start_new_session=True
    )
    os.close(child)

    def drain() -> None:
        with contextlib.suppress(OSError):
            while os.read(parent, 65536):
                pass

    threading.Thread(target=drain, daemon=True).start()
    return process, parent


def played(recording: Recording, since: int) -> tuple[int | None, bool]:
    """Tell from the end of the recording where an answer began, and whether it is over."""
    samples = side(recording, 1, since)
    loud = np.flatnonzero(np.abs(samples.astype(int)) > FLOOR)
    if not len(loud):
        return None, False
    return since + int(loud[0]), len(samples) - int(loud[-1]) > 0.45 * RATE_HZ


def side(
    recording: Recording, channel: int, since: int, until: int | None = None
) -> np.ndarray[Any, np.dtype[np.int16]]:
    """Read a piece of one side, (n,) int16; a recording grows long, and only its end is wanted."""
    size = recording.path.stat().st_size // 4 if until is None else until
    with recording.path.open("rb") as file:
        file.seek(4 * since)
        data = np.frombuffer(file.read(4 * (size - since)), dtype="<i2")
    return data[: len(data) // 2 * 2].reshape(-1, 2)[:, channel]


def main() -> None:
    """Measure and print."""
    parser = argparse.ArgumentParser()
    parser.add_argument("--phrases", type=int, default=200)
    parser.add_argument("--seed", type=int, default=5)
    parser.add_argument("--note", default="", help="what else ran on the machine, for the table")
    add_results_options(parser)
    options = parser.parse_args()
    waits: list[float] = []
    silent = 0
    with Room() as room, tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        process, terminal = start(room, folder)
        time.sleep(24)  # its cautions take a while, and the ears are shut until they are over
        with room.recording() as recording:
            for path in phrases(options.phrases, options.seed):
                since = recording.path.stat().st_size // 4
                wav = write_wav(folder / "phrase.wav", read_sound(path), 16_000)
                room.say(wav)
                until = time.monotonic() + WAIT_S
                began, over = played(recording, since)
                while not over and time.monotonic() < until:
                    time.sleep(0.05)
                    began, over = played(recording, since)
                speech = np.flatnonzero(np.abs(side(recording, 0, since, began).astype(int)) > FLOOR)
                if began is None or not len(speech):
                    silent += 1
                else:
                    waits.append((began - since - int(speech[-1])) / RATE_HZ)
                time.sleep(0.3)
        os.write(terminal, b"\x03")
        process.wait(timeout=20)
        steps = [json.loads(line) for line in (folder / "timings").read_text().splitlines()]
    result = {
        "phrases": options.phrases,
        "answered": len(waits),
        "not_answered": silent,
        "p50_ms": round(1000 * float(np.percentile(waits, 50))),
        "p95_ms": round(1000 * float(np.percentile(waits, 95))),
        "split_p50_ms": {
            key: round(float(np.percentile([step[key] for step in steps], 50)), 1) for key in STEPS
        },
        "split_p95_ms": {
            key: round(float(np.percentile([step[key] for step in steps], 95)), 1) for key in STEPS
        },
        "load_average": os.getloadavg()[0],
        "cores": os.cpu_count(),
        "processor": processor(),
        "note": options.note,
    }
    leave("latency", result, table, options)


STEPS = {
    "endpoint_s": "silence until it is certain that nobody goes on",
    "decode_s": "from there until the words are known",
    "journal_s": "rule and journal",
    "speech_s": "making the tone (the words are made while it sounds)",
    "device_s": "until the loudspeaker has them",
}


def table(result: dict[str, Any]) -> str:
    """Write the result as a Markdown table."""
    p50, p95 = result["split_p50_ms"], result["split_p95_ms"]
    lines = [
        "| from the last sound of the phrase to the first of the answer | p50 | p95 |",
        "| --- | --- | --- |",
        f"| all of it, as both sides were recorded | {result['p50_ms']} ms | {result['p95_ms']} ms |",
        *[f"| {text} | {p50[key]:.0f} ms | {p95[key]:.0f} ms |" for key, text in STEPS.items()],
        "",
        f"{result['answered']} of {result['phrases']} phrases answered, on {result['cores']} cores "
        f"({result.get('processor', 'unnamed')}) with the display running; load average at the end "
        f"{result['load_average']:.1f}. The steps are the program's own count; the rest is the "
        "voice detector's delay, up to some 65 ms, and the sound server's. " + result["note"],
    ]
    return "\n".join(lines).rstrip() + "\n"


if __name__ == "__main__":
    main()
