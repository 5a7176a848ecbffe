"""Recordings of real people, out of two Debian packages, with their transcripts.

`asterisk-core-sounds-en-g722` (CC BY-SA 3.0): one American woman, 16 kHz, prompts of a telephone
exchange, with every number word on its own; its transcripts are in `asterisk-core-sounds-en`.
`pocketsphinx-testdata` (BSD 2-clause): short commands and a book being read, 16 kHz.

Both are for judging only: nothing may be trained or calibrated on them.
"""

from __future__ import annotations

import functools
import gzip
import re
import shutil
import subprocess
import wave
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

import numpy as np
import pytest

from handsfree.hear import SAMPLERATE_HZ, Samples

PROMPTS = Path("/usr/share/asterisk/sounds/en_US_f_Allison")
TRANSCRIPTS = Path("/usr/share/doc/asterisk-core-sounds-en/core-sounds-en.txt.gz")
TESTDATA = Path("/usr/share/pocketsphinx/test/data")

ONES = [
    *("zero", "one", "two", "three", "four", "five", "six", "seven", "eight", "nine", "ten", "eleven"),
    *("twelve", "thirteen", "fourteen", "fifteen", "sixteen", "seventeen", "eighteen", "nineteen"),
]
TENS = ["twenty", "thirty", "forty", "fifty", "sixty", "seventy", "eighty", "ninety"]


@dataclass(frozen=True, eq=False)
class Spoken:
    """One recording: a name for messages, what is said in it, (n,) int16 at 16 kHz."""

    name: str
    text: str
    samples: Samples


def need(path: Path, package: str) -> None:
    """Skip the test where the package of recordings is not installed."""
    if not path.exists():
        pytest.skip(f"no recordings: apt-get install {package}")


@functools.cache
def prompt(name: str) -> Samples:
    """Return one prompt, such as "digits/18"."""
    need(PROMPTS, "asterisk-core-sounds-en-g722")
    if shutil.which("ffmpeg") is None:
        pytest.skip("no decoder for the recordings: apt-get install ffmpeg")
    done = subprocess.run(
        ["ffmpeg", "-v", "error", "-f", "g722", "-i", str(PROMPTS / f"{name}.g722"), "-f", "s16le", "-"],
        check=True,
        capture_output=True,
    )
    return np.frombuffer(done.stdout, np.int16)


def trimmed(samples: Samples) -> Samples:
    """Cut off what lies more than 35 dB below the loudest 10 ms, at both ends."""
    frame = SAMPLERATE_HZ // 100
    count = len(samples) // frame
    power = (samples[: count * frame].astype(float).reshape(count, frame) ** 2).mean(axis=1)
    loud = np.flatnonzero(power > power.max() * 10**-3.5)
    return samples[loud[0] * frame : (loud[-1] + 1) * frame]


def padded(samples: Samples, seconds: float = 0.3) -> Samples:
    """Put silence round a recording."""
    silence = np.zeros(round(seconds * SAMPLERATE_HZ), np.int16)
    return np.concatenate([silence, samples, silence])


def number_words() -> list[tuple[int, Spoken]]:
    """Return 1 to 20 and the tens to 90, each as one recording of one person."""
    numbers = [*range(1, 21), *range(30, 100, 10)]
    return [(n, Spoken(f"digits/{n}", in_words(n), padded(trimmed(prompt(f"digits/{n}"))))) for n in numbers]


def joined_numbers() -> list[tuple[int, Spoken]]:
    """Return 21 to 99 without the tens, each joined from two recordings with their silences trimmed."""
    numbers = [n for n in range(21, 100) if n % 10]
    return [
        (
            n,
            Spoken(
                f"digits/{n // 10 * 10}+{n % 10}",
                in_words(n),
                padded(
                    np.concatenate(
                        [trimmed(prompt(f"digits/{n // 10 * 10}")), trimmed(prompt(f"digits/{n % 10}"))]
                    )
                ),
            ),
        )
        for n in numbers
    ]


def in_words(n: int) -> str:
    """Write 0 to 99 in words."""
    if n < 20:
        return ONES[n]
    return TENS[n // 10 - 2] + (f" {ONES[n % 10]}" if n % 10 else "")


def transcripts() -> dict[str, str]:
    """Return the transcripts of the prompts, as the package has them."""
    need(TRANSCRIPTS, "asterisk-core-sounds-en")
    lines = gzip.decompress(TRANSCRIPTS.read_bytes()).decode("utf-8").splitlines()
    pairs = (line.split(":", 1) for line in lines if ":" in line and not line.startswith(";"))
    return {name.strip(): text.strip() for name, text in pairs}


def plain(text: str) -> str:
    """Write a sentence as words are counted: small letters, no marks.

    >>> plain("I'm sorry, that's not valid...")
    "i'm sorry that's not valid"
    """
    return " ".join(re.sub(r"[^a-z' ]", " ", text.lower().replace("\u2019", "'")).split())


def sentences(fewest_words: int = 5, *, every: int = 1) -> list[Spoken]:
    """Return the prompts, or every so manieth, that are sentences without figures, signs or directions."""
    return _prompts(
        lambda _, text: not re.search(r"[0-9<>\[\]@*#|]", text) and len(plain(text).split()) >= fewest_words,
        every,
    )


def all_prompts(*, every: int = 1) -> list[Spoken]:
    """Return every prompt that isn't a number, letter or word on its own: talk that is no command."""
    alone = ("digits/", "letters/", "phonetic/", "silence/")
    return _prompts(lambda name, text: not name.startswith(alone) and len(plain(text).split()) >= 3, every)


def _prompts(wanted: Callable[[str, str], bool], every: int) -> list[Spoken]:
    need(PROMPTS, "asterisk-core-sounds-en-g722")
    found = [
        (name, text)
        for name, text in sorted(transcripts().items())
        if wanted(name, text) and (PROMPTS / f"{name}.g722").exists()
    ]
    return [Spoken(name, plain(text), prompt(name)) for name, text in found[::every]]


def raw(path: Path) -> Samples:
    """Read headerless 16 kHz PCM."""
    return np.fromfile(path, np.int16)


def wav(path: Path) -> Samples:
    """Read a 16 kHz mono 16-bit WAV."""
    with wave.open(str(path)) as file:
        assert (file.getframerate(), file.getnchannels(), file.getsampwidth()) == (16_000, 1, 2)
        return np.frombuffer(file.readframes(file.getnframes()), np.int16)


def _listed(folder: Path, transcription: str) -> list[Spoken]:
    found = []
    for line in (folder / transcription).read_text("utf-8").splitlines():
        match = re.fullmatch(r"<s>(.*)</s> *\((.*)\)", line.strip())
        if match:
            found.append(Spoken(match[2], plain(match[1]), wav(folder / f"{match[2]}.wav")))
    return found


def cards() -> list[Spoken]:
    """Return five people's short lines about playing cards, which have a grammar of their own."""
    need(TESTDATA, "pocketsphinx-testdata")
    return _listed(TESTDATA / "cards", "cards.transcription")


def read_aloud() -> list[Spoken]:
    """Return five sentences of a novel being read: nothing in them is a command."""
    need(TESTDATA, "pocketsphinx-testdata")
    return _listed(TESTDATA / "librivox", "transcription")


def commands() -> list[Spoken]:
    """Return two commands: moving a turtle, and a string of digits."""
    need(TESTDATA, "pocketsphinx-testdata")
    return [
        Spoken("goforward", "go forward ten meters", raw(TESTDATA / "goforward.raw")),
        Spoken("dhd.2934z", "two nine three four zero", raw(TESTDATA / "tidigits" / "dhd.2934z.raw")),
    ]


def mixed_set() -> list[Spoken]:
    """Return the twelve recordings of `pocketsphinx-testdata` that have transcripts: 101 words."""
    return [*cards(), *commands(), *read_aloud()]
