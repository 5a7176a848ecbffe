"""Pack clips, noises and rooms into the single input file of training.

    python -m handsfree.training.bank OUT.npz --speech SPEECH --voices DIR...

SPEECH is a folder of people's recordings, noises and impulse responses with its ``manifest.csv``; only
speakers, noises and rooms of the split *train* are read (see `splits`). ``--list`` names the list of clips
made by `people`, which takes half an hour; without it the list is made here. A DIR is a folder made by
``audio_fixtures/make.py --corpus``, or ``audio_fixtures`` itself; only its speakers of the split
*calibrate* are read.
"""

from __future__ import annotations

import argparse
import csv
import tempfile
from collections import Counter
from collections.abc import Iterator, Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from handsfree.hear import SAMPLERATE_HZ, Samples, model_folder, read_sound
from handsfree.training import people
from handsfree.training.splits import NOISES, ROOMS, TRAIN, recorded
from handsfree.training.transcripts import Tokens, in_numerals, in_words

LONGEST_S, SHORTEST_S = 7.2, 0.3
NOISE_S = 7.6  # the longest row that is mixed with noise
ROOM_TAPS = 11_200  # 0.7 s
END = 2

# Weights of distillation from the packaged encoder on clean sound, and of the transcript loss.
A_COMMAND = (0.25, 1.0)
WEIGHTS = {
    "human": (1.0, 0.5),
    "chatter": (1.0, 0.5),
    "overheard": (1.0, 0.5),  # transcribed by the packaged networks
    "sentence": (0.7, 1.0),
    "telephone": (0.8, 0.7),
    "single": (0.7, 0.5),  # one or two words without meaning at the bench
    "number": (0.5, 1.0),
}
# Sampling weights of clips, so that a set of one speaker doesn't outweigh a set of many.
ODDS = {
    "an4": 4.0,
    "common-voice": 3.0,
    "librispeech": 2.0,
    "speech-commands": 2.0,
    "vctk-b": 0.6,
    "arctic-woman": 0.5,
    "spoken-digits": 0.4,
    "wake-words-a": 0.3,
    "wake-words-b": 0.3,
}
A_VOICE = 3.0  # for the bench's phrases by a synthetic speaker


@dataclass(frozen=True, slots=True)
class Clip:
    """One clip to pack: its sound, two transcripts (or none), and its kind.

    start, end: samples at 16 kHz; end 0 is the file's end.
    """

    path: Path
    start: int
    end: int
    ways: tuple[str, ...]
    kind: str
    odds: float = 1.0


def of_people(speech: Path, clips: Path) -> Iterator[Clip]:
    """Yield the clips of a list.

    Raises:
        ValueError: when a file of the list isn't in the split train.
    """
    allowed = {one.path for one in recorded(speech, TRAIN)}
    with clips.open(encoding="utf-8", newline="") as file:
        for row in csv.DictReader(file):
            path = speech / row["file"]
            if path not in allowed:
                raise ValueError(f"{clips}: {row['file']} isn't for training; make the list anew")
            ways = (in_words(row["text"]), in_words(row["written"])) if row["text"] else ()
            yield Clip(
                path, int(row["start"]), int(row["end"]), ways, row["kind"], ODDS.get(path.parent.name, 1.0)
            )


def of_voices(folder: Path) -> Iterator[Clip]:
    """Yield the clips of synthetic speakers of the training split."""
    with (folder / "manifest.csv").open(encoding="utf-8", newline="") as file:
        for row in csv.DictReader(file):
            if row["split"] == "calibrate":
                text = row["text"]
                ways = (in_words(text), in_numerals(text))
                yield Clip(folder / row["file"], 0, 0, ways, row["kind"], A_VOICE)


def noises(speech: Path) -> NDArray[np.int16]:
    """Return the noises of the split train in rows of equal length: (rows, samples)."""
    size = round(NOISE_S * SAMPLERATE_HZ)
    rows = []
    for one in recorded(speech, TRAIN, NOISES):
        sound = read_sound(one.path)
        if len(sound) < SAMPLERATE_HZ // 2 or not sound.any():
            continue
        parts = [sound[at : at + size] for at in range(0, max(1, len(sound) - size // 2), size)]
        rows += [people.crossfaded(part, NOISE_S) for part in parts]
    return np.stack(rows) if rows else np.zeros((0, size), np.int16)


def rooms(speech: Path) -> NDArray[np.float32]:
    """Return the impulse responses from their loudest sample on, scaled to one: (rooms, taps)."""
    rows = []
    for one in recorded(speech, TRAIN, ROOMS):
        response = read_sound(one.path).astype(np.float32)
        peak = int(np.abs(response).argmax())
        row = np.zeros(ROOM_TAPS, np.float32)
        taps = response[peak : peak + ROOM_TAPS] / response[peak]
        row[: len(taps)] = taps
        rows.append(row)
    return np.stack(rows) if rows else np.zeros((0, ROOM_TAPS), np.float32)


def _cut(clip: Clip) -> Samples:
    sound = read_sound(clip.path)
    return sound[clip.start : clip.end or len(sound)]


def pack(out: Path, clips: Sequence[Clip], speech: Path | None) -> None:
    """Write the file."""
    encode = Tokens(model_folder() / "tokenizer.bin")
    kept, sounds = [], []
    with ThreadPoolExecutor() as readers:
        for clip, sound in zip(clips, readers.map(_cut, clips), strict=True):
            if SHORTEST_S * SAMPLERATE_HZ < len(sound) < LONGEST_S * SAMPLERATE_HZ:
                kept.append(clip)
                sounds.append(sound)
    ways = [[encode(way) for way in clip.ways] for clip in kept]
    known = [bool(each) and all(each) for each in ways]
    longest = 1 + max(len(way or ()) for each in ways for way in each)
    tokens = np.full((len(kept), 2, longest), END, np.int16)
    for row, (each, good) in enumerate(zip(ways, known, strict=True)):
        for at, way in enumerate(each if good else ()):
            tokens[row, at, : len(way or ())] = way or []
    lengths = np.array([len(sound) for sound in sounds])
    weights = np.array([WEIGHTS.get(clip.kind, A_COMMAND) for clip in kept], np.float32)
    np.savez(
        out,
        sound=np.concatenate(sounds),
        start=np.concatenate([[0], np.cumsum(lengths)[:-1]]),
        length=lengths,
        tokens=tokens,
        distil=weights[:, 0],
        write=weights[:, 1] * known,
        kind=np.array([clip.kind for clip in kept]),
        odds=np.array([clip.odds for clip in kept], np.float32),
        noise=noises(speech) if speech else np.zeros((0, round(NOISE_S * SAMPLERATE_HZ)), np.int16),
        room=rooms(speech) if speech else np.zeros((0, ROOM_TAPS), np.float32),
    )
    print("clips", len(kept), "hours", round(lengths.sum() / SAMPLERATE_HZ / 3600, 2), flush=True)
    for kind, count in Counter(clip.kind for clip in kept).most_common():
        print(kind, count, flush=True)


def main(arguments: Sequence[str] | None = None) -> None:
    """Read the sources and write the bank."""
    parser = argparse.ArgumentParser(description="Pack clips, noises and rooms for training.")
    parser.add_argument("out", type=Path, metavar="OUT.npz")
    parser.add_argument("--speech", type=Path, help="folder of people's recordings, noises and rooms")
    parser.add_argument("--list", type=Path, metavar="CSV", help="what handsfree.training.people made")
    parser.add_argument("--voices", type=Path, nargs="*", default=[], metavar="DIR")
    asked = parser.parse_args(arguments)
    clips: list[Clip] = []
    if asked.speech:
        with tempfile.TemporaryDirectory() as folder:
            given = asked.list or Path(folder) / "clips.csv"
            if not asked.list:
                people.main([str(asked.speech), str(given)])
            clips += of_people(asked.speech, given)
    for folder in asked.voices:
        clips += of_voices(folder)
    pack(asked.out, clips, asked.speech)


if __name__ == "__main__":
    main()
