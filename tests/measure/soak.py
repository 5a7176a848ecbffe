"""A long session: memory, and whether each thing said is taken once.

Runs `handsfree bench` in a room of PulseAudio's null sinks with recorded phrases, one after the other, each
of which must be taken exactly once. What it costs while nobody speaks: `tests/measure/idle.py`.

    python -m tests.measure.soak [--minutes 5] [--write]

With --write it leaves soak.json and soak.md beside itself.
"""

from __future__ import annotations

import argparse
import os
import queue
import signal
import sys
import tempfile
import threading
import time
from pathlib import Path
from typing import Any

import numpy as np

ROOT = Path(__file__).parents[2]
sys.path.insert(0, str(ROOT))
sys.path.insert(0, str(Path(__file__).parent))

import latency  # noqa: E402

from handsfree.hear import read_sound  # noqa: E402
from tests.measure.live import add_results_options, leave, start_plain  # noqa: E402
from tests.support.room import Room, write_wav  # noqa: E402

TICK_HZ = os.sysconf("SC_CLK_TCK")


def family(parent: int) -> list[int]:
    """Return a process and all its descendants."""
    found = [parent]
    for each in found:
        for task in Path(f"/proc/{each}/task").glob("*/children"):
            found += [int(child) for child in task.read_text().split()]
    return found


def cpu_s(parent: int) -> float:
    """Processor time that a process and its living descendants have used."""
    total = 0
    for each in family(parent):
        fields = Path(f"/proc/{each}/stat").read_text().rpartition(")")[2].split()
        total += int(fields[11]) + int(fields[12])
    return total / TICK_HZ


def memory_mb(parent: int, kind: str = "Pss") -> float:
    """Memory of a process and its descendants: their share of all that they use, or a part of it.

    For growth it is "Pss_Anon", what they wrote themselves: their share of libraries' files shrinks and
    grows by tens of megabytes with whatever else on the machine uses the same ones.
    """
    total = 0
    for each in family(parent):
        for line in Path(f"/proc/{each}/smaps_rollup").read_text().splitlines():
            if line.startswith(f"{kind}:"):
                total += int(line.split()[1])
    return total / 1024


def soak(room: Room, folder: Path, minutes: float) -> dict[str, object]:
    """Phrase after phrase; each must be taken once."""
    process = start_plain(room, folder, "--answers", "terse", "--rate", "300")
    lines: queue.Queue[str] = queue.Queue()
    assert process.stdout is not None
    threading.Thread(target=lambda: [lines.put(line) for line in process.stdout], daemon=True).start()
    time.sleep(22)
    rooms, counts, lost_sound = [memory_mb(process.pid, "Pss_Anon")], {"once": 0, "never": 0, "twice": 0}, 0
    paths = latency.phrases(1000, 5)  # all there are: what was never said before is what takes memory
    until, said = time.monotonic() + 60 * minutes, 0
    while time.monotonic() < until:
        while not lines.empty():
            lines.get()
        room.say(write_wav(folder / "phrase.wav", read_sound(paths[said % len(paths)]), 16_000))
        said += 1
        time.sleep(4.5)
        taken = 0
        while not lines.empty():
            line = lines.get()
            taken += line.startswith(("heard:", "unsure:"))
            lost_sound += line.startswith("sound was lost")
        counts["never" if taken == 0 else "once" if taken == 1 else "twice"] += 1
        if said % 10 == 0:
            rooms.append(memory_mb(process.pid, "Pss_Anon"))
    process.send_signal(signal.SIGTERM)
    process.wait(timeout=20)
    first, last = float(np.median(rooms[1:3] or rooms)), float(np.median(rooms[-2:]))
    return {
        "minutes": minutes,
        "phrases": said,
        **{f"taken_{key}": value for key, value in counts.items()},
        "overflows_reported": lost_sound,
        "own_memory_mb": [round(each, 1) for each in rooms],
        "memory_growth_percent": round(100 * (last / first - 1), 1),
    }


def main() -> None:
    """Measure and print."""
    parser = argparse.ArgumentParser()
    parser.add_argument("--minutes", type=float, default=5)
    parser.add_argument("--note", default="", help="what else ran on the machine, for the table")
    add_results_options(parser)
    options = parser.parse_args()
    with Room() as room, tempfile.TemporaryDirectory() as name:
        result = soak(room, Path(name), options.minutes)
    result |= {"load_average": os.getloadavg()[0], "cores": os.cpu_count(), "note": options.note}
    leave("soak", result, table, options)


def table(result: dict[str, Any]) -> str:
    """Write the result as a Markdown table."""
    own = result["own_memory_mb"]
    rows = {
        f"phrases in {result['minutes']:g} minutes": str(result["phrases"]),
        "taken once, never, twice": ", ".join(
            str(result[f"taken_{key}"]) for key in ("once", "never", "twice")
        ),
        "overflows reported": str(result["overflows_reported"]),
        "memory that all its processes write to, at the end": f"{own[-1]:.0f} MB",
        "its growth since the first phrases": f"{result['memory_growth_percent']} %",
    }
    lines = [
        "| a long session | |",
        "| --- | --- |",
        *[f"| {key} | {value} |" for key, value in rows.items()],
    ]
    load = f"On {result['cores']} cores; load average at the end {result['load_average']:.1f}. "
    return "\n".join([*lines, "", (load + result["note"]).rstrip()]) + "\n"


if __name__ == "__main__":
    main()
