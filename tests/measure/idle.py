"""Load and memory of an idle bench, with display and microphone, in silence and in noise.

Runs `handsfree bench` with its display in a terminal of its own, in a room made of PulseAudio's null sinks,
and counts the processor time of all its processes.

    python -m tests.measure.idle [--seconds 60] [--write]

With --write it leaves idle.json and idle.md beside itself.
"""

from __future__ import annotations

import argparse
import os
import tempfile
import time
from pathlib import Path
from typing import Any

import numpy as np

from handsfree.hear import SAMPLERATE_HZ, Samples
from tests.measure import latency
from tests.measure.live import add_results_options, leave
from tests.measure.results import processor
from tests.measure.soak import cpu_s, memory_mb
from tests.support.room import Room, write_wav

HERE = Path(__file__)
NOISE_DB = -40.0
_GREETING_S = 20.0
_SETTLING_S = 8.0


def pink(seconds: float) -> Samples:
    """Return a steady shop: pink noise, (n,) int16 at 16 kHz."""
    count = int(SAMPLERATE_HZ * seconds)
    spectrum = np.fft.rfft(np.random.default_rng(1).standard_normal(count))
    spectrum /= np.sqrt(np.maximum(np.fft.rfftfreq(count, 1 / SAMPLERATE_HZ), 20))
    noise = np.fft.irfft(spectrum, count)
    return np.asarray(noise / noise.std() * 32768 * 10 ** (NOISE_DB / 20), np.int16)


def throbbing(seconds: float) -> Samples:
    """Return the same, rising and falling twice a second as behind a compressor."""
    steady = pink(seconds)
    turns = 2 * np.pi * 2.1 * np.arange(len(steady)) / SAMPLERATE_HZ
    return np.asarray(steady * (1 + 0.6 * np.sin(turns)), np.int16)


ROOMS = {"silence": None, "steady noise": pink, "throbbing noise": throbbing}


def measured(name: str, seconds: float) -> dict[str, float]:
    """Return the load in percent of one core, and the memory in MB, in a room of its own."""
    sound = ROOMS[name]
    with Room() as room, tempfile.TemporaryDirectory() as folder:
        process, terminal = latency.start(room, Path(folder))
        time.sleep(_GREETING_S)
        player = None
        if sound is not None:
            lasting = sound(seconds + 3 * _SETTLING_S)
            player = room.say(write_wav(Path(folder) / "noise.wav", lasting, SAMPLERATE_HZ), wait=False)
        time.sleep(_SETTLING_S)
        before, began = cpu_s(process.pid), time.monotonic()
        time.sleep(seconds)
        used = (cpu_s(process.pid) - before) / (time.monotonic() - began)
        memory = memory_mb(process.pid)
        if player is not None:
            player.kill()
            player.wait()
        os.write(terminal, b"\x03")
        process.wait(timeout=20)
    return {"percent_of_a_core": round(100 * used, 1), "memory_mb": round(memory)}


def table(result: dict[str, Any]) -> str:
    """Write the result as a Markdown table."""
    lines = [
        "| while nobody speaks, in | of one core | memory of all its processes |",
        "| --- | --- | --- |",
        *[
            f"| {name} | {found['percent_of_a_core']} % | {found['memory_mb']} MB |"
            for name, found in result["rooms"].items()
        ],
        "",
        f"Noise at {NOISE_DB:g} dB of full scale. On {result['cores']} cores, {result['processor']}; load "
        f"average before {result['load_before']:.1f}.",
    ]
    return "\n".join(lines) + "\n"


def main() -> None:
    """Measure and print."""
    parser = argparse.ArgumentParser(description=(__doc__ or "").splitlines()[0])
    parser.add_argument("--seconds", type=float, default=60)
    add_results_options(parser)
    options = parser.parse_args()
    load_before = os.getloadavg()[0]
    result = {
        "rooms": {name: measured(name, options.seconds) for name in ROOMS},
        "load_before": load_before,
        "cores": os.cpu_count(),
        "processor": processor(),
    }
    leave("idle", result, table, options)


if __name__ == "__main__":
    main()
