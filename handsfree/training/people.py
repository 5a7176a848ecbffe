"""List the training clips of a folder of people's recordings, with two transcripts of each.

    python -m handsfree.training.people SPEECH OUT.csv

SPEECH has a ``manifest.csv``; only speakers of the split *train* are read (see `splits`). OUT.csv has one
row for each clip: file (relative to SPEECH), start and end in samples at 16 kHz, text, written, kind. The
sound stays where it is; `bank` packs it.

A recording that is too long is split at its quietest places; its text is aligned to the pieces by the
packaged networks' transcripts. `written` is the transcript in the packaged decoder's own style: its
transcript of the clean sound if the words are the same, else the corpus's words with its capitals and
punctuation. Without it, training would teach the encoder that sentences have no commas. A recording
without a text gets the packaged networks' transcript if they are sure of it (kind "overheard"), or none.
"""

from __future__ import annotations

import argparse
import csv
import re
from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from difflib import SequenceMatcher
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from handsfree.hear import PACKAGED_ENCODER, SAMPLERATE_HZ, PhraseModel, Samples, read_sound
from handsfree.training.free import overheard
from handsfree.training.splits import NOISES, ROOMS, TRAIN, Recorded, recorded
from handsfree.training.transcripts import in_numerals, in_words

LONGEST_S, SHORTEST_S = 6.9, 0.3
SURE = -0.45  # mean log-probability of a token above which the packaged networks' transcript is accepted
ASTRAY = 0.34  # share of a piece's words that may differ from its transcript
COLUMNS = ("file", "start", "end", "text", "written", "kind")
EASY = 2  # texts of so few words need no transcript for their punctuation
NUMBERS = ("an4", "spoken-digits", "speech-commands")
TELEPHONE = "telephone-wuw"
_BLOCK = SAMPLERATE_HZ // 100
_QUIET = np.zeros(SAMPLERATE_HZ // 8, np.int16)
_TRAILING = " ,;:-."
_MARKS = re.compile(r"[^a-z0-9]")


@dataclass(frozen=True, slots=True)
class Clip:
    """A row of the list; start and end in samples."""

    file: str
    start: int
    end: int
    text: str
    written: str
    kind: str


def pieces(samples: Samples) -> list[tuple[int, int]]:
    """Return start and end of the pieces: silence trimmed, split at the quietest places if too long.

    Empty if there is hardly any sound. A piece without a quiet place is dropped, or split where it is
    quietest if it is twice too long.
    """
    sound = samples.astype(np.float32) / 32768
    count = len(sound) // _BLOCK
    least, most = int(SHORTEST_S * 100), int(LONGEST_S * 100)
    if count < least:
        return []
    level = np.sqrt(np.square(sound[: count * _BLOCK].reshape(count, _BLOCK)).mean(1) + 1e-12)
    loud = float(np.percentile(level, 95))
    if loud < 0.0015:
        return []
    speech = np.flatnonzero(level > 0.05 * loud)
    waiting = [(max(0, int(speech[0]) - 8), min(count, int(speech[-1]) + 10))]
    found = []
    while waiting:
        start, end = waiting.pop()
        if end - start <= most:
            if end - start >= least:
                found.append((start * _BLOCK, end * _BLOCK))
            continue
        smooth = np.convolve(level[start:end], np.ones(12) / 12, "same")
        cut = 150 + int(np.argmin(smooth[150:-150]))
        if smooth[cut] <= 0.12 * loud or end - start > 2 * most:
            waiting += [(start + cut, end), (start, start + cut)]
    return sorted(found)


def plain_words(text: str) -> list[str]:
    """Return a text's words in lower case without punctuation."""
    return re.sub(r"[^a-z0-9' ]", " ", text.lower().replace("\u2019", "'").replace("-", " ")).split()


def dealt_out(words: Sequence[str], heard: Sequence[Sequence[str]]) -> list[list[str]]:
    """Align a text's words, in order, to the pieces of its sound by the transcript of each.

    >>> dealt_out("we went up the hill".split(), [["we", "want"], ["up", "the", "hills"]])
    [['we', 'went'], ['up', 'the', 'hill']]
    """
    from rapidfuzz.distance import Levenshtein

    best: list[tuple[int, list[int]]] = [(0 if at == 0 else 10**6, []) for at in range(len(words) + 1)]
    for said in heard:
        best = [
            min(
                (
                    best[start][0] + Levenshtein.distance(list(said), list(words[start:end])),
                    [*best[start][1], end],
                )
                for start in range(end + 1)
            )
            for end in range(len(words) + 1)
        ]
    ends = best[-1][1]
    return [list(words[start:end]) for start, end in zip([0, *ends], ends, strict=False)]


def same_sound(text: str) -> str:
    """Return the normal form of two transcripts of the same: numerals for numbers, no punctuation, no blanks.

    >>> same_sound("Forty-two, O 9.") == same_sound("forty two oh nine") == "4209"
    True
    """
    words = " ".join("oh" if word == "o" else word for word in plain_words(text))
    return _MARKS.sub("", re.sub(r"\b(oh|zero)\b", "0", in_numerals(words).lower()))


def written_as(text: str, heard: str) -> str:
    """Return a text with the capitals and punctuation of the decoder's transcript, where the words agree.

    >>> written_as("well mister smith he said", "Well, Mr. Smith, he sat.")
    'Well, mister Smith, he said.'
    """
    if same_sound(text) == same_sound(heard):
        return in_words(heard.rstrip(_TRAILING))
    tokens = [token for token in heard.split() if len(plain_words(token)) == 1]
    words = plain_words(text)
    matcher = SequenceMatcher(None, words, [plain_words(token)[0] for token in tokens], autojunk=False)
    out: list[str] = []
    for kind, start, end, there, until in matcher.get_opcodes():
        out += tokens[there:until] if kind == "equal" else words[start:end]
    return in_words(" ".join(out).rstrip(_TRAILING))


def clips(one: Recorded, model: PhraseModel, folder: Path) -> Iterator[Clip]:
    """Yield a recording's clips."""
    samples = read_sound(one.path)
    cuts = pieces(samples)
    words = plain_words(one.text)
    file = str(one.path.relative_to(folder))
    if len(cuts) == 1 and 0 < len(words) <= EASY:
        kind = "number" if one.set in NUMBERS else "single"
        yield Clip(file, *cuts[0], _spelt(words), _figures(words), kind)
        return
    heard = [overheard(model, np.concatenate([_QUIET, samples[a:b], _QUIET])) for a, b in cuts]
    dealt: Sequence[Sequence[str]] = [words] if len(cuts) == 1 else [[] for _ in cuts]
    if len(cuts) > 1 and words:
        dealt = dealt_out(words, [plain_words(each.text) for each in heard])
    for (start, end), each, mine in zip(cuts, heard, dealt, strict=True):
        text, written, kind = " ".join(mine), "", "human"
        if len(cuts) > 1 and mine and not _agrees(mine, plain_words(each.text)):
            text = ""
        if text and one.set in NUMBERS:
            same = same_sound(text) == same_sound(each.text)
            text, kind = _spelt(mine), "number"
            written = in_words(each.text.rstrip(_TRAILING)) if same else _figures(mine)
        elif text:
            written = written_as(text, each.text)
            kind = "telephone" if one.set == TELEPHONE else "sentence"
        elif not one.text and each.ended and each.sureness > SURE:
            text, written, kind = each.text, each.text, "overheard"
        yield Clip(file, start, end, text, written, kind)


def _spelt(words: Sequence[str]) -> str:
    """Write words, with spelt-out letters as capitals."""
    return " ".join(word.upper() if len(word) == 1 and word not in "ai" else word for word in words)


def _figures(words: Sequence[str]) -> str:
    return in_numerals(" ".join("zero" if word == "oh" else word for word in words)).replace("zero", "0")


def _agrees(words: Sequence[str], heard: Sequence[str]) -> bool:
    from rapidfuzz.distance import Levenshtein

    return Levenshtein.distance(list(words), list(heard)) <= ASTRAY * len(words)


def crossfaded(samples: Samples, seconds: float) -> NDArray[np.int16]:
    """Repeat a sound to a given length with cross-fades at the joints: (n,) int16 in and out."""
    wanted, fade = round(seconds * SAMPLERATE_HZ), min(len(samples) // 4, SAMPLERATE_HZ // 4)
    if len(samples) >= wanted or not fade:
        return samples[:wanted]
    rise = np.linspace(0, 1, fade, dtype=np.float32)
    out = samples.astype(np.float32)
    while len(out) < wanted:
        joint = out[-fade:] * (1 - rise) + samples[:fade] * rise
        out = np.concatenate([out[:-fade], joint, samples[fade:].astype(np.float32)])
    return out[:wanted].astype(np.int16)


def main(arguments: Sequence[str] | None = None) -> None:
    """Write the list."""
    parser = argparse.ArgumentParser(description=(__doc__ or "").splitlines()[0])
    parser.add_argument("speech", type=Path, metavar="SPEECH")
    parser.add_argument("out", type=Path, metavar="OUT.csv")
    parser.add_argument("--threads", type=int, default=1)
    asked = parser.parse_args(arguments)
    model = PhraseModel(encoder=PACKAGED_ENCODER, threads=asked.threads)
    said = [one for one in recorded(asked.speech, TRAIN) if not one.set.startswith((NOISES, ROOMS))]
    kinds = Counter[tuple[str, str]]()
    with asked.out.open("w", encoding="utf-8", newline="") as file:
        table = csv.writer(file)
        table.writerow(COLUMNS)
        for number, one in enumerate(said):
            for clip in clips(one, model, asked.speech):
                kinds[one.set, clip.kind] += 1
                table.writerow([getattr(clip, column) for column in COLUMNS])
            if number % 500 == 0:
                print(number, "of", len(said), flush=True)
    for (name, kind), count in sorted(kinds.items()):
        print(name, kind, count)


if __name__ == "__main__":
    main()
