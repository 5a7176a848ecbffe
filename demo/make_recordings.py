"""Make the demo's recordings from its story: sound, key files, manifest, and the list to replay.

    python demo/make_recordings.py

Needs the voices of ``audio_fixtures`` (its README.md says where they come from). The same seed gives
the same noise and timing; the sound is the same as long as the voices are the same versions.
"""

from __future__ import annotations

import csv
import io
import sys
import zlib
from dataclasses import asdict, fields
from itertools import groupby
from pathlib import Path

import numpy as np
import soundfile
from story import KEYPAD, STORY, Line

HERE = Path(__file__).resolve().parent
sys.path[:0] = [str(HERE.parent), str(HERE.parent / "audio_fixtures")]

from make import chatter_lines, tidy  # noqa: E402
from speakers import VOICES  # noqa: E402
from voices import RATE_HZ  # noqa: E402
from voices import Line as Speech  # noqa: E402

from handsfree.hear.level import to_samples  # noqa: E402
from handsfree.hear.noise import TAKES_TALK, spoil  # noqa: E402

SEED = 20261125
FOLDER = HERE / "recordings"
LEVEL_DB = -24.0
EDGE_S = 0.6  # of room before and after each phrase


def main() -> None:
    """Write everything anew."""
    FOLDER.mkdir(exist_ok=True)
    for old in [*FOLDER.glob("*.ogg"), *FOLDER.glob("*.keys")]:
        old.unlink()
    voices = {voice.name: voice for voice in VOICES}
    rows: list[tuple[str, Line]] = []
    number = 0
    for keyed, group in groupby(STORY, key=lambda line: line.voice == KEYPAD):
        lines = list(group)
        for together in [lines] if keyed else [[line] for line in lines]:
            number += 1
            first = together[0]
            if keyed:
                name = f"{number:02d}-keypad.keys"
                (FOLDER / name).write_text("".join(f"{line.text} Enter\n" for line in together), "utf-8")
            else:
                name = f"{number:02d}-{first.voice.rpartition('-')[2].rpartition('_')[2]}.ogg"
                _record(FOLDER / name, first, voices[first.voice].say(Speech(first.text, seed=number)))
            rows += [(name, line) for line in together]
            print(name, first.text, flush=True)
    _write_manifest(rows)
    files = list(dict.fromkeys(name for name, _ in rows))
    (FOLDER / "session.txt").write_text("\n".join(files) + "\n", "utf-8")


def _record(path: Path, line: Line, said: np.ndarray) -> None:
    samples = to_samples(tidy(said, LEVEL_DB, EDGE_S, EDGE_S).astype(np.float64))
    if line.noise:
        rng = np.random.default_rng([SEED, zlib.crc32(path.name.encode())])
        talk = [_talk()] if line.noise in TAKES_TALK else []
        samples = spoil(samples, line.noise, float(line.snr_db), rng, talk)
    soundfile.write(path, samples, RATE_HZ, format="OGG", subtype="VORBIS", compression_level=0.4)


def _talk() -> np.ndarray:
    """What the radio says."""
    voice = next(voice for voice in VOICES if voice.name == "flite-awb")
    said = [voice.say(Speech(text)) for text in chatter_lines()[:6]]
    return to_samples(np.concatenate(said).astype(np.float64))


def _write_manifest(rows: list[tuple[str, Line]]) -> None:
    out = io.StringIO(newline="")
    writer = csv.DictWriter(out, ["file", *(field.name for field in fields(Line))])
    writer.writeheader()
    writer.writerows({"file": name, **asdict(line)} for name, line in rows)
    (FOLDER / "manifest.csv").write_text(out.getvalue(), "utf-8", newline="")


if __name__ == "__main__":
    main()
