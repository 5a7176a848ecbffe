"""English that actors spoke, with its text, out of two adventure games which Debian carries with their sound.

    apt-get download beneath-a-steel-sky flight-of-the-amazon-queen
    python -m handsfree.training.acted OUT DEB...

OUT gets clips as FLAC and OUT/NAME.csv (file, text, kind), which `transcripts` and `bank` read. The games'
licences allow copying and changing them, but not selling them by themselves: keep the clips to yourself.

A clip's text comes from the game's own lines: the line that is most like what the packaged networks hear in
the clean (kind "acted"). Where none is like it, what they hear is taken if they are sure of it (kind
"overheard"), otherwise the clip goes without (kind "human", for distillation only), or is left out if hardly
anything was heard.
"""

from __future__ import annotations

import argparse
import csv
import io
import re
import subprocess
import tempfile
from collections import Counter
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from handsfree.hear import END, PACKAGED_ENCODER, SAMPLERATE_HZ, PhraseModel, Samples

LONGEST_S = 6.9
SHORTEST_S = 0.4
LIKE = 78.0  # percent of letters; of forty pairs of 72 to 80 a quarter were another line
SURE, UNHEARD = -0.45, -1.6  # mean log-probability of a token
HALLUCINATED = frozenset({"", "you", "oh", "uh", "ah", "thank you"})  # written for what is no speech
_CREDITS = "\N{COPYRIGHT SIGN}"  # so is a line of credits, learned from subtitles
_BLOCK = 160
_QUIET = np.zeros(SAMPLERATE_HZ // 6, np.int16)
_TOKENS_A_SECOND, _SPARE_TOKENS = 7, 8

Sound = NDArray[np.float32]


@dataclass(frozen=True, slots=True)
class Overheard:
    """What the packaged networks wrote, how sure they were (mean log-probability), and whether they ended."""

    text: str
    sureness: float
    ended: bool


def sky_sounds(directory: bytes, data: bytes) -> Iterator[tuple[str, Sound, int]]:
    """Give name, sound and rate of each spoken line of the one game.

    directory: a count and entries of 8 bytes, little end first: number (2 bytes), place (3; with the top bit
    set in units of 16), size and flags (3; the size has 22 bits). Numbers from 50000 to 59999 are speech:
    22 bytes, then unsigned samples of 8 bits.
    """
    for at in range(4, 4 + 8 * int.from_bytes(directory[:4], "little"), 8):
        number, place, size = (
            int.from_bytes(directory[at + a : at + b], "little") for a, b in ((0, 2), (2, 5), (5, 8))
        )
        if 50_000 <= number < 60_000:
            place = (place & 0x7FFFFF) << 4 if place >> 23 else place
            levels = np.frombuffer(data[place + 22 : place + (size & 0x3FFFFF)], np.uint8)
            yield f"sky{number}", levels.astype(np.float32) / np.float32(128) - np.float32(1), 11_025


def queen_files(data: bytes) -> dict[str, bytes]:
    """Give the files inside the other game's one file.

    It begins with QTBL, nine bytes more and a count (2 bytes, big end first); an entry is a name (12 bytes),
    a bundle (1), place (4) and size (4).

    Raises:
        ValueError: when it begins otherwise.
    """
    if data[:4] != b"QTBL":
        raise ValueError("the game's data begins with something other than QTBL: this is another edition")
    files = {}
    for n in range(int.from_bytes(data[13:15], "big")):
        entry = data[15 + 21 * n : 36 + 21 * n]
        place, size = (int.from_bytes(entry[a : a + 4], "big") for a in (13, 17))
        files[entry[:12].split(b"\0")[0].decode("ascii")] = data[place : place + size]
    return files


def queen_lines(files: dict[str, bytes]) -> list[str]:
    """Give what is said in dialogues, scenes and remarks, a line for each breath, sorted.

    Strings stand behind a byte with their length; a star and two signs are stage directions.
    """
    said: set[str] = set()
    for name, data in files.items():
        if name.endswith((".DOG", ".CUT")):
            for run in re.finditer(rb"[\x20-\x7e]{3,}", data):
                # the length, and a number before it, may look like letters
                for start in range(run.start(), run.start() + 4):
                    text = data[start : start + data[start - 1]] if start else b""
                    if len(text) >= run.end() - start and text.isascii() and text.decode().isprintable():
                        said.update(_breaths(text.decode()))
                        break
    for line in files.get("QUEEN2.JAS", b"").decode("latin-1").splitlines():
        said.update(_breaths(line))
    return sorted(said)


def _breaths(text: str) -> Iterator[str]:
    for part in re.split(r"\*\w\w|\*", text):
        line = re.sub(r"\s+", " ", part.replace('"', "")).strip()
        if len(line) > 1 and re.search("[a-z]", line):
            yield line


def queen_sounds(files: dict[str, bytes]) -> Iterator[tuple[str, Sound, int]]:
    """Give name, sound and rate of each sound of the other game; most are spoken lines."""
    import soundfile

    for name, data in sorted(files.items()):
        if name.endswith(".SB"):
            sound, rate = soundfile.read(io.BytesIO(data), dtype="float32")
            yield f"queen{name[:-3]}", sound, rate


def parts(sound: Sound) -> Iterator[Sound]:
    """Cut silence off both ends, and what is too long at its quietest places: (n,) at 16 kHz, peak a half.

    What has no quiet place is left out, or cut where it is least loud if it is twice too long.
    """
    count = len(sound) // _BLOCK
    level = np.sqrt(np.square(sound[: count * _BLOCK].reshape(count, _BLOCK)).mean(1) + 1e-12)
    least, most = int(SHORTEST_S * 100), int(LONGEST_S * 100)
    loud = float(np.percentile(level, 95)) if count >= least else 0.0
    if loud < 0.003:
        return
    speech = np.flatnonzero(level > 0.06 * loud)
    waiting = [(max(0, int(speech[0]) - 6), min(count, int(speech[-1]) + 8))]
    while waiting:
        start, end = waiting.pop()
        if end - start <= most:
            if end - start >= least:
                part = sound[start * _BLOCK : end * _BLOCK]
                yield part * (0.5 / max(1e-3, float(np.abs(part).max())))
            continue
        smooth = np.convolve(level[start:end], np.ones(12) / 12, "same")
        cut = 150 + int(np.argmin(smooth[150:-150]))
        if smooth[cut] <= 0.12 * loud or end - start > 2 * most:
            waiting += [(start, start + cut + 4), (start + cut - 4, end)]


def overheard(model: PhraseModel, samples: Samples) -> Overheard:
    """Decode freely, the likeliest token each time: (n,) int16 at 16 kHz."""
    hidden = model.encode(samples)
    logp, memory = model.begin(hidden)
    tokens: list[int] = []
    total = 0.0
    for _ in range(len(samples) * _TOKENS_A_SECOND // SAMPLERATE_HZ + _SPARE_TOKENS):
        token = int(logp.argmax())
        total += float(logp[token])
        if token == END:
            return Overheard(model.vocabulary.text(tuple(tokens)), total / (len(tokens) + 1), True)
        tokens.append(token)
        rows, memory = model.step(hidden, memory, [0], [token])
        logp = rows[0]
    return Overheard(model.vocabulary.text(tuple(tokens)), total / (len(tokens) + 1), False)


def labelled(heard: Overheard, lines: Sequence[str]) -> tuple[str, str] | None:
    """Give text and kind for a clip, None to leave it out. lines: what may have been said, where known."""
    from rapidfuzz import fuzz, process

    plain = _plain(heard.text)
    if lines and len(plain) >= 3:
        _, like, at = process.extractOne(plain, [_plain(line) for line in lines], scorer=fuzz.ratio)
        if like >= LIKE:
            return tidy(lines[at]), "acted"
    if not heard.ended or heard.sureness < UNHEARD or plain in HALLUCINATED or _CREDITS in heard.text:
        return None
    return (heard.text, "overheard") if heard.sureness > SURE else ("", "human")


def tidy(line: str) -> str:
    """Write a line as the packaged decoder would: no shouting, no dots that trail off.

    >>> tidy("Well... this place looks REALLY nice!!")
    'Well this place looks really nice!'
    """
    line = re.sub(r"\.\.+", " ", line)
    line = re.sub(r"([!?])[!?]+", r"\1", line)
    line = re.sub(r"\b(?!TV\b|OK\b)[A-Z]{2,}\b", lambda shouted: shouted[0].lower(), line)
    return re.sub(r"\s+([,.!?])", r"\1", re.sub(r"\s+", " ", line)).strip(" ,-")


def _plain(text: str) -> str:
    return " ".join(re.sub(r"[^a-z ]", "", text.lower().replace("-", " ")).split())


def clips(package: Path) -> Iterator[tuple[str, Samples, Sequence[str]]]:
    """Give each clip of a Debian package: a name, (n,) int16 at 16 kHz, and the lines it may be of.

    Raises:
        ValueError: when the package holds neither game.
    """
    import soxr

    with tempfile.TemporaryDirectory() as folder:
        subprocess.run(["dpkg-deb", "-x", str(package), folder], check=True)  # noqa: S603, S607
        found = {path.name: path.read_bytes() for path in Path(folder).rglob("*") if path.suffix in _SUFFIXES}
    sounds: Iterable[tuple[str, Sound, int]]
    if "sky.dnr" in found:
        sounds, lines = sky_sounds(found["sky.dnr"], found["sky.dsk"]), list[str]()
    elif "queen.1c" in found:
        files = queen_files(found["queen.1c"])
        sounds, lines = queen_sounds(files), queen_lines(files)
    else:
        raise ValueError(f"{package} holds neither of the two games' sound")
    for name, sound, rate in sounds:
        if len(sound) >= SHORTEST_S * rate:
            whole = soxr.resample(sound - sound.mean(), rate, SAMPLERATE_HZ)
            cut = list(parts(np.asarray(whole, np.float32)))
            for number, part in enumerate(cut):
                # a part of a line is like no line
                yield f"{name}-{number}", np.asarray(part * 32767, np.int16), lines if len(cut) == 1 else ()


_SUFFIXES = (".dnr", ".dsk", ".1c")


def main(arguments: Sequence[str] | None = None) -> None:
    """Write the clips and their table."""
    import soundfile

    parser = argparse.ArgumentParser(description=(__doc__ or "").splitlines()[0])
    parser.add_argument("out", type=Path, metavar="OUT")
    parser.add_argument("packages", type=Path, nargs="+", metavar="DEB")
    asked = parser.parse_args(arguments)
    asked.out.mkdir(parents=True, exist_ok=True)
    model = PhraseModel(encoder=PACKAGED_ENCODER)
    with (asked.out / f"{asked.out.name}.csv").open("w", encoding="utf-8", newline="") as file:
        table = csv.writer(file)
        table.writerow(("file", "text", "kind"))
        for package in asked.packages:
            kinds = Counter[str]()
            for name, samples, lines in clips(package):
                label = labelled(overheard(model, np.concatenate([_QUIET, samples, _QUIET])), lines)
                kinds[label[1] if label else "left out"] += 1
                if label:
                    soundfile.write(asked.out / f"{name}.flac", samples, SAMPLERATE_HZ)
                    table.writerow((f"{name}.flac", *label))
                if kinds.total() % 500 == 0:
                    print(package.name, dict(kinds), flush=True)
            print(package.name, dict(kinds), flush=True)


if __name__ == "__main__":
    main()
