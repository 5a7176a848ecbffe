"""Reading and writing sound files, as 16 kHz mono int16."""

from __future__ import annotations

import io
import re
import wave
from collections.abc import Iterator
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from handsfree.errors import SoundError
from handsfree.files import write_whole
from handsfree.hear.heard import SAMPLERATE_HZ, Samples

if TYPE_CHECKING:
    from soundfile import SoundFile


_STREAMED = 0x7FFF0000
"""Programs that write to a pipe don't know the length; they write 0 or a number at least this large."""

_PROMISED = re.compile(r"^\s*(?:data|SSND)\s*:\s*(\d+)\s*\(should be (\d+)\)", re.MULTILINE)
_OGG_TAIL = 2 * 65_307  # a page is no longer than 65,307 bytes (RFC 3533, section 6)
_OGG_HEADER = 27
_OGG_LAST = 0x04


def missing_part(path: Path, file: SoundFile) -> str | None:
    """Return the missing part of a WAV, AIFF or OGG, as half a sentence; None if it is complete.

    FLAC isn't checked here: reading it shows what is missing.
    """
    promise = _PROMISED.search(file.extra_info)
    if promise:
        promised, found = int(promise[1]), int(promise[2])
        if found < promised < _STREAMED:
            return f"its header promises {promised:,} bytes of sound and {found:,} are there"
    if file.format == "OGG" and not _ogg_ends(path):
        return "its last page is missing"
    return None


def _ogg_ends(path: Path) -> bool:
    """Return whether the file ends with a complete page that is marked as the last.

    Source: the Ogg page header, RFC 3533, section 6.
    """
    size = path.stat().st_size
    with path.open("rb") as raw:
        raw.seek(max(0, size - _OGG_TAIL))
        tail = raw.read()
    at = tail.rfind(b"OggS")
    while at >= 0:
        header = tail[at : at + _OGG_HEADER]
        if len(header) == _OGG_HEADER:
            segments = tail[at + _OGG_HEADER : at + _OGG_HEADER + header[26]]
            whole = len(segments) == header[26] and at + _OGG_HEADER + header[26] + sum(segments) <= len(tail)
            if whole:
                return bool(header[5] & _OGG_LAST)
        at = tail.rfind(b"OggS", 0, at)
    return False


WANTED = "WAV, FLAC or OGG"

_BLOCK_S = 1.0
_LOWEST_RATE_HZ = 1000  # below that no speech is left
_HEADER_BYTES = 1000  # headers without sound are smaller than that
_FLOAT_SUBTYPES = frozenset({"FLOAT", "DOUBLE"})
_FULL_SCALE = 32768


def read_sound(path: Path | str) -> Samples:
    """Return a whole recording: (n,) int16, 16 kHz mono.

    Formats: WAV of 8, 16, 24 or 32 bits or float, FLAC, OGG and others that libsndfile reads; any rate, any
    number of channels (averaged). Float sound beyond +-1 is scaled down as a whole, so that nothing wraps or
    clips; NaN counts as silence.

    Raises:
        SoundError: the file is missing, a folder, empty, damaged or not a sound file.
    """
    return np.concatenate([np.zeros(0, np.int16), *stream_sound(path)])


def stream_sound(path: Path | str) -> Iterator[Samples]:
    """Yield a recording as `read_sound` returns it, in pieces of about a second.

    At most a second is in memory, however long the recording is.

    Raises:
        SoundError: as for `read_sound`; for a file damaged in the middle, possibly after some pieces.
    """
    path = Path(path)
    with _open(path) as file:
        gain = _gain(path, file)
        yield from _resampled(_mono_blocks(path, file), file.samplerate, gain)


def write_wav(path: Path | str, samples: Samples, samplerate_hz: int = SAMPLERATE_HZ) -> None:
    """Write a 16-bit mono WAV, whole or not at all.

    samples: (n,) int16.

    Raises:
        SoundError: it can't be written.
    """
    path = Path(path)
    if samples.dtype != np.int16 or samples.ndim != 1:
        raise ValueError(f"wanted (n,) int16, found {samples.shape} {samples.dtype}")
    encoded = io.BytesIO()
    with wave.open(encoded, "wb") as out:
        out.setnchannels(1)
        out.setsampwidth(2)
        out.setframerate(samplerate_hz)
        out.writeframes(samples.astype("<i2").tobytes())
    try:
        write_whole(path, encoded.getvalue())
    except OSError as why:
        raise SoundError(f'The recording "{path}" can\'t be written: {why.strerror or why}.') from why


def _open(path: Path) -> SoundFile:
    import soundfile

    try:
        if path.is_dir():
            raise SoundError(f'"{path}" is a folder, not a recording; name the files in it.')
        if not path.exists():
            raise SoundError(f'There is no recording "{path}"; check the name.')
        if not path.is_file():
            raise SoundError(f'"{path}" is not a file with sound in it; name a {WANTED} file.')
        if path.stat().st_size == 0:
            raise SoundError(f'The recording "{path}" is empty (0 bytes); record it again.')
        with path.open("rb") as raw:
            start = raw.read(12)
        file = soundfile.SoundFile(path)
    except soundfile.LibsndfileError as why:
        raise SoundError(_not_sound(path, start)) from why
    except (TypeError, ValueError) as why:  # soundfile takes a file named .raw for headerless sound
        raise SoundError(_not_sound(path, start)) from why
    except OSError as why:
        raise SoundError(f'The recording "{path}" can\'t be read: {why.strerror or why}.') from why
    try:
        _check(path, file)
    except BaseException:
        file.close()
        raise
    return file


def _not_sound(path: Path, start: bytes) -> str:
    known = {b"RIFF": "WAV", b"fLaC": "FLAC", b"OggS": "OGG"}.get(start[:4])
    if known:
        return f'The recording "{path}" begins as {known} does and is then torn; copy or record it again.'
    return f'"{path}" is not a sound file: wanted {WANTED}, found {_looks_like(start)}.'


def _looks_like(start: bytes) -> str:
    try:
        text = start.decode("ascii")
    except UnicodeDecodeError:
        return "something else"
    return f'text that begins with "{text.strip()}"' if text.strip().isprintable() else "something else"


def _check(path: Path, file: SoundFile) -> None:
    if file.samplerate < _LOWEST_RATE_HZ:
        raise SoundError(
            f'The recording "{path}" has {file.samplerate} samples a second; '
            f"wanted at least {_LOWEST_RATE_HZ}, better {SAMPLERATE_HZ}."
        )
    missing = missing_part(path, file)
    if missing is not None:
        raise SoundError(f'The recording "{path}" is torn: {missing}; copy or record it again.')
    if file.frames == 0:
        if path.stat().st_size > _HEADER_BYTES:
            raise SoundError(
                f'The recording "{path}" is torn: its header was never finished, as when a recorder is '
                "switched off too soon; record it again."
            )
        raise SoundError(f'The recording "{path}" has a header and no sound after it; record it again.')


def _blocks(path: Path, file: SoundFile) -> Iterator[NDArray[np.float64]]:
    """Yield (n, channels) float64 of the whole file, and check that nothing is missing."""
    import soundfile

    size = max(1, int(_BLOCK_S * file.samplerate))
    promised, found = file.frames, 0
    try:
        file.seek(0)
        while len(block := file.read(size, dtype="float64", always_2d=True)):
            found += len(block)
            yield block
    except soundfile.LibsndfileError as why:
        raise SoundError(_torn_inside(path, promised, found, file.samplerate)) from why
    if found < promised:
        raise SoundError(_torn_inside(path, promised, found, file.samplerate))


def _torn_inside(path: Path, promised: int, found: int, rate: int) -> str:
    return (
        f'The recording "{path}" is torn: its header promises {promised / rate:.2f} s '
        f"and no more than {found / rate:.2f} s can be read; copy or record it again."
    )


def _gain(path: Path, file: SoundFile) -> float:
    """Return the gain: 1, or less if float sound goes beyond +-1."""
    if file.subtype not in _FLOAT_SUBTYPES:
        return 1.0
    peak = 0.0
    for block in _blocks(path, file):
        peak = max(peak, float(np.abs(block[np.isfinite(block)]).max(initial=0.0)))
    return 1.0 / peak if peak > 1 else 1.0


def _mono_blocks(path: Path, file: SoundFile) -> Iterator[NDArray[np.float64]]:
    for block in _blocks(path, file):
        sane = block if np.isfinite(block).all() else np.where(np.isfinite(block), block, 0.0)
        yield sane[:, 0] if sane.shape[1] == 1 else sane.mean(axis=1)


def _resampled(blocks: Iterator[NDArray[np.float64]], rate_hz: int, gain: float) -> Iterator[Samples]:
    if rate_hz == SAMPLERATE_HZ:
        yield from (_to_int16(block * gain) for block in blocks)
        return
    import soxr

    stream = soxr.ResampleStream(rate_hz, SAMPLERATE_HZ, 1, dtype="float64", quality="HQ")
    for block in blocks:
        yield _to_int16(stream.resample_chunk(block * gain))
    yield _to_int16(stream.resample_chunk(np.zeros(0), last=True))


def _to_int16(block: NDArray[np.float64]) -> Samples:
    scaled = np.rint(block * _FULL_SCALE)
    return np.clip(scaled, -_FULL_SCALE, _FULL_SCALE - 1).astype(np.int16)
