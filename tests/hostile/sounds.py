"""Recordings that no recorder should write: torn, with lying headers, of other formats, of nothing."""

from __future__ import annotations

import io
import random
import struct
from functools import cache

import numpy as np
import soundfile

from tests.support.program import RECORDINGS

FORMATS = (
    *(("WAV", "PCM_U8"), ("WAV", "PCM_16"), ("WAV", "PCM_24"), ("WAV", "PCM_32"), ("WAV", "FLOAT")),
    *(("WAV", "DOUBLE"), ("WAV", "ULAW"), ("WAV", "IMA_ADPCM"), ("WAVEX", "PCM_16"), ("AIFF", "PCM_16")),
    *(("FLAC", "PCM_16"), ("FLAC", "PCM_24"), ("OGG", "VORBIS"), ("OGG", "OPUS"), ("AU", "PCM_16")),
    *(("MP3", "MPEG_LAYER_III"), ("CAF", "PCM_16"), ("W64", "PCM_16"), ("RF64", "PCM_16"), ("VOC", "PCM_16")),
)
ENDINGS = (".wav", ".flac", ".ogg", ".aiff", ".au", ".mp3", ".raw", ".WAV", "", ".txt")


@cache
def _speech() -> np.ndarray:
    samples, _ = soundfile.read(RECORDINGS / "02-michael.ogg", dtype="float64")
    return np.asarray(samples)[: 3 * 24000]


@cache
def _whole(form: str, subtype: str, rate: int, channels: int) -> bytes:
    samples = np.repeat(_speech()[:, None], channels, axis=1)
    out = io.BytesIO()
    try:
        soundfile.write(out, samples, rate, subtype=subtype, format=form)
    except (soundfile.LibsndfileError, ValueError):  # this format takes no such rate or number
        soundfile.write(out, samples[:, :1], 16000, subtype="PCM_16", format="WAV")
    return out.getvalue()


def odd_sound(random_: random.Random) -> tuple[str, bytes]:
    """Return the ending of a file's name, and what is in the file."""
    ending = random_.choice(ENDINGS)
    rate = random_.choice([8000, 16000, 22050, 24000, 48000])
    data = _whole(*random_.choice(FORMATS), rate, random_.choice([1, 1, 2, 6]))
    kind = random_.randrange(9)
    match kind:
        case 0:
            return ending, data[: random_.randrange(len(data))]
        case 1:
            return ending, _altered(random_, data, 60)
        case 2:
            return ending, _altered(random_, data, len(data))
        case 3:
            return ".wav", _lying(random_)
        case 4:
            return ".wav", _unreal(random_)
        case 5:
            return ending, random_.randbytes(random_.choice([0, 1, 11, 44, 1000, 100_000]))
        case 6:
            return ending, data + random_.randbytes(random_.randrange(5000))
        case 7:
            start = random_.choice(
                [b"RIFF", b"fLaC", b"OggS", b"FORM", b"caff", b"ID3\x04", b"RF64", b".snd"]
            )
            return ending, start + random_.randbytes(random_.choice([0, 8, 40, 4000]))
        case _:
            return ending, data


def _altered(random_: random.Random, data: bytes, within: int) -> bytes:
    changed = bytearray(data)
    for _ in range(random_.randint(1, 12)):
        changed[random_.randrange(min(within, len(changed)))] = random_.choice([0, 1, 0x7F, 0x80, 0xFF])
    return bytes(changed)


def _lying(random_: random.Random) -> bytes:
    """Return a WAV whose header promises what isn't there."""
    some = [0, 1, 2, 16, 65535]
    large = [0, 1, 44, 2**31 - 1, 2**31, 2**32 - 1]
    sound = random_.randbytes(random_.choice([0, 1, 320, 32000]))
    rate = random_.choice([0, 1, 999, 16000, 192000, 2**31 - 1, 2**32 - 1])
    head = struct.pack(
        "<HHIIHH",
        random_.choice([0, 1, 1, 2, 3, 6, 7, 17, 85, 0xFFFE, 0xFFFF]),
        random_.choice([0, 1, 1, 2, 255, 1024, 65535]),
        rate,
        random_.choice([0, rate * 2 % 2**32, 2**32 - 1]),
        random_.choice([0, 1, 2, 2, *some]),
        random_.choice([0, 1, 8, 16, 16, 24, 64, 65535]),
    )
    chunks = b""
    if random_.random() < 0.3:
        chunks = b"LIST" + struct.pack("<I", random_.choice(large)) + b"INFO" * random_.choice([1, 20_000])
    size = random_.choice([len(sound), *large])
    data = b"data" + struct.pack("<I", size) + sound
    body = b"WAVEfmt " + struct.pack("<I", random_.choice([16, 16, 18, 40, *large])) + head + chunks + data
    return b"RIFF" + struct.pack("<I", random_.choice([len(body), *large])) + body


def _unreal(random_: random.Random) -> bytes:
    """Return a WAV of floats that are no sound."""
    length = random_.choice([0, 1, 100, 16000, 48000])
    values = [float("nan"), float("inf"), -float("inf"), 1e300, -1e300, 1e-320, 0.0, 1.0, -1.0, 1e6]
    samples = np.array([random_.choice(values) for _ in range(min(length, 100))] * (length // 100 + 1))[
        :length
    ]
    if random_.random() < 0.5:
        samples = np.full(length, random_.choice(values))
    out = io.BytesIO()
    with np.errstate(over="ignore", invalid="ignore"):
        soundfile.write(out, samples, 16000, subtype=random_.choice(["FLOAT", "DOUBLE"]), format="WAV")
    return out.getvalue()
