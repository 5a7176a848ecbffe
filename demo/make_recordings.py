"""Make a demo's recordings from its story: sound, key files, manifest, and the list to replay.

    python demo/make_recordings.py         the rings of the eight
    python demo/make_recordings.py build   the build of the twin

Needs the voices of ``audio_fixtures`` (its README.md says where they come from). The same seed gives
the same noise and timing; the sound is the same as long as the voices are the same versions.
"""

from __future__ import annotations

import csv
import io
import sys
import zlib
from collections.abc import Iterable, Iterator, Mapping, Sequence
from itertools import groupby
from pathlib import Path
from typing import Protocol

import numpy as np
import soundfile
import story

HERE = Path(__file__).resolve().parent
sys.path[:0] = [str(HERE.parent), str(HERE.parent / "audio_fixtures"), str(HERE / "build")]

import twin  # noqa: E402
from make import chatter_lines, tidy  # noqa: E402
from speakers import VOICES  # noqa: E402
from voices import RATE_HZ  # noqa: E402
from voices import Line as Speech  # noqa: E402

from handsfree.recordings.noise import TAKES_TALK, spoil, to_samples  # noqa: E402

SEED = 20261125
LEVEL_DB = -24.0
EDGE_S = 0.6  # of room before and after each phrase


class Line(Protocol):
    """What is needed of a line of a story."""

    voice: str
    text: str
    noise: str
    snr_db: str

    def rows(self) -> Iterator[dict[str, str]]:
        """Give its rows of the manifest."""


def main() -> None:
    """Write one demo's recordings anew."""
    if sys.argv[1:] == ["build"]:
        make(twin.STORY, HERE / "build" / "recordings")
    else:
        make(story.STORY, HERE / "recordings")


def make(lines: Sequence[Line], folder: Path) -> None:
    """Write a story's recordings, key files, manifest and list into a folder."""
    folder.mkdir(exist_ok=True)
    for old in [*folder.glob("*.ogg"), *folder.glob("*.keys")]:
        old.unlink()
    voices = {voice.name: voice for voice in VOICES}
    rows: list[dict[str, str]] = []
    number = 0
    for keyed, group in groupby(lines, key=lambda line: line.voice == story.KEYPAD):
        together = list(group)
        for one in [together] if keyed else [[line] for line in together]:
            number += 1
            first = one[0]
            if keyed:
                name = f"{number:02d}-keypad.keys"
                (folder / name).write_text("".join(f"{line.text} Enter\n" for line in one), "utf-8")
            else:
                name = f"{number:02d}-{first.voice.rpartition('-')[2].rpartition('_')[2]}.ogg"
                _record(folder / name, first, voices[first.voice].say(Speech(first.text, seed=number)))
            rows += [{"file": name, **row} for line in one for row in line.rows()]
            print(name, first.text, flush=True)
    _write_manifest(rows, folder)
    files = list(dict.fromkeys(row["file"] for row in rows))
    (folder / "session.txt").write_text("\n".join(files) + "\n", "utf-8")


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


def _write_manifest(rows: Iterable[Mapping[str, str]], folder: Path) -> None:
    rows = list(rows)
    out = io.StringIO(newline="")
    writer = csv.DictWriter(out, list(rows[0]))
    writer.writeheader()
    writer.writerows(rows)
    (folder / "manifest.csv").write_text(out.getvalue(), "utf-8", newline="")


if __name__ == "__main__":
    main()
