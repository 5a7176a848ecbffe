"""Cost of listening: idle, in noise, and through an hour's recording.

    python tests/measure/listening.py

Prints a table: share of one core while nobody speaks, and time and memory for an hour-long file with a
phrase every ten seconds.
"""

from __future__ import annotations

import resource
import tempfile
import time
from pathlib import Path

import numpy as np
import soundfile

from handsfree.hear import Ended, Endpointer, read_sound
from handsfree.hear.endpoint import listen
from handsfree.hear.sound import stream_sound
from handsfree.recordings.noise import noise, to_samples

FIXTURES = Path(__file__).parents[2] / "audio_fixtures"
SECONDS = 60
BLOCK = 320  # 20 ms, as a sound card gives them


def idle() -> None:
    """Say how much of a core goes while nobody speaks."""
    print("| nobody speaks, noise at | share of one core | utterances |\n| --- | --- | --- |")
    for kind, level_db in [
        ("pink", -60),
        ("pink", -15),
        ("compressor", -25),
        ("grinder", -15),
        ("impacts", -25),
    ]:
        sound = noise(kind, SECONDS * 16000, np.random.default_rng(1)) * 10 ** (level_db / 20)
        samples = to_samples(sound)
        endpointer, found = Endpointer(), 0
        before = time.process_time()
        for start in range(0, len(samples), BLOCK):
            found += sum(
                isinstance(event, Ended) for event in endpointer.feed(samples[start : start + BLOCK])
            )
        share = (time.process_time() - before) / SECONDS
        print(f"| {kind}, {level_db} dBFS | {100 * share:.2f} % | {found} |")


def hour() -> None:
    """Say what an hour-long file takes, streamed."""
    phrase = read_sound(FIXTURES / "flite-slt" / "05.ogg").astype(float)
    ten_seconds = np.zeros(160_000)
    ten_seconds[40_000 : 40_000 + len(phrase)] = phrase
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "hour.wav"
        with soundfile.SoundFile(path, "w", 16000, 1, "PCM_16") as file:
            for number in range(360):
                hiss = noise("pink", len(ten_seconds), np.random.default_rng(number)) * 100
                file.write((ten_seconds + hiss).astype(np.int16))
        before_s, before_kib = time.process_time(), resource.getrusage(resource.RUSAGE_SELF).ru_maxrss
        found = sum(1 for _ in listen(stream_sound(path)))
        taken_s = time.process_time() - before_s
    grown = (resource.getrusage(resource.RUSAGE_SELF).ru_maxrss - before_kib) / 1024
    print(f"\nAn hour's file: {found} utterances of 360, {taken_s:.1f} s of one core, {grown:.1f} MiB more.")


if __name__ == "__main__":
    idle()
    hour()
