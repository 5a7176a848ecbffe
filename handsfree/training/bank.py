"""Pack clips into the one file that training reads.

    python -m handsfree.training.bank OUT.npz TOKENS.json SOURCE...

A SOURCE is a folder with a CSV of its own name (columns file, text and kind; no text: for distillation
only), as `acted` makes one, or a folder of .npy shards with an index.json. TOKENS.json maps each text to its
two token lists, see `transcripts`.
"""

from __future__ import annotations

import argparse
import csv
import json
from collections.abc import Iterator, Sequence
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

RATE_HZ = 16_000
LONGEST_S = 7.2

# Weight of answering as the packaged encoder does for the clean, and of the transcript.
A_COMMAND = (0.25, 1.0)
WEIGHTS = {
    "human": (1.0, 0.5),
    "chatter": (1.0, 0.5),
    "overheard": (1.0, 0.5),  # the transcript is the packaged networks' own
    "acted": (0.7, 1.0),  # the packaged networks may be wrong, the transcript isn't
}


def clips(source: Path) -> Iterator[tuple[NDArray[np.int16], str, str]]:
    """Give each clip of a source: sound, text, kind."""
    index = source / "index.json"
    if index.exists():
        parts: dict[str, NDArray[np.int16]] = {}
        for entry in json.loads(index.read_text())["items"]:
            part = entry["shard"]
            if part not in parts:
                parts[part] = np.load(source / part)
            yield parts[part][entry["start"] : entry["start"] + entry["length"]], entry["text"], entry["kind"]
        return
    import soundfile

    with (source / f"{source.name}.csv").open(encoding="utf-8") as file:
        for row in csv.DictReader(file):
            sound, rate = soundfile.read(source / row["file"], dtype="int16")
            if rate == RATE_HZ and sound.ndim == 1:
                yield sound, row.get("text") or "", row.get("kind") or "human"


def main(arguments: Sequence[str] | None = None) -> None:
    """Read the sources and write the bank."""
    parser = argparse.ArgumentParser(description="Pack clips into the one file that training reads.")
    parser.add_argument("out", type=Path, metavar="OUT.npz")
    parser.add_argument("tokens", type=Path, metavar="TOKENS.json", help="see handsfree.training.transcripts")
    parser.add_argument("sources", type=Path, nargs="+", metavar="SOURCE")
    options = parser.parse_args(arguments)
    written = json.loads(options.tokens.read_text("utf-8"))
    sounds: list[NDArray[np.int16]] = []
    tokens, distil, write, kinds = [], [], [], []
    longest = max(len(way) for ways in written.values() for way in ways) + 1
    for source in options.sources:
        count = 0
        for sound, text, kind in clips(source):
            if not 0.3 * RATE_HZ < len(sound) < LONGEST_S * RATE_HZ:
                continue
            ways = written.get(text, [[], []])
            rows = np.full((2, longest), 2, np.int16)
            for row, way in enumerate(ways):
                rows[row, : len(way)] = way
            sounds.append(sound)
            tokens.append(rows)
            keep, learn = WEIGHTS.get(kind, A_COMMAND)
            distil.append(keep)
            write.append(learn if ways[0] else 0.0)
            kinds.append(kind)
            count += 1
        print(source, count, flush=True)
    lengths = np.array([len(s) for s in sounds])
    np.savez(
        options.out,
        sound=np.concatenate(sounds),
        start=np.concatenate([[0], np.cumsum(lengths)[:-1]]),
        length=lengths,
        tokens=np.stack(tokens),
        distil=np.array(distil, np.float32),
        write=np.array(write, np.float32),
        kind=np.array(kinds),
    )
    print("clips", len(sounds), "hours", round(lengths.sum() / RATE_HZ / 3600, 2), flush=True)


if __name__ == "__main__":
    main()
