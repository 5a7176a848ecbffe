"""Recordings that are too long to hold in memory."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

import numpy as np
import soundfile

HOUR_S = 3600


def test_an_hour_streams_in_little_memory(tmp_path: Path) -> None:
    path = tmp_path / "hour.wav"
    with soundfile.SoundFile(path, "w", 8000, 1, "PCM_U8") as file:
        for _ in range(HOUR_S // 60):
            file.write(np.zeros(8000 * 60, np.int16))
    script = (
        "import resource, sys\n"
        "from handsfree.hear.sound import stream_sound\n"
        "next(stream_sound(sys.argv[1]))\n"
        "before = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss\n"
        "count = sum(len(piece) for piece in stream_sound(sys.argv[1]))\n"
        "print(count, resource.getrusage(resource.RUSAGE_SELF).ru_maxrss - before)\n"
    )
    ran = subprocess.run(
        [sys.executable, "-c", script, str(path)], capture_output=True, text=True, check=True
    )
    count, grown_kib = map(int, ran.stdout.split())
    assert abs(count - HOUR_S * 16000) <= 1
    assert grown_kib < 20_000  # as int16 at 16 kHz the hour is 115 MB
