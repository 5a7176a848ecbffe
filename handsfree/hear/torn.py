"""Whether a sound file is all there: libsndfile reads a torn one as if it were a shorter one."""

from __future__ import annotations

import re
from pathlib import Path
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from soundfile import SoundFile

_STREAMED = 0x7FFF0000
"""Programs that write to a pipe can't know the length; they put 0 or a number at least this large."""

_PROMISED = re.compile(r"^\s*(?:data|SSND)\s*:\s*(\d+)\s*\(should be (\d+)\)", re.MULTILINE)
_OGG_TAIL = 2 * 65_307  # a page is no longer than 65,307 bytes (RFC 3533, section 6)
_OGG_HEADER = 27
_OGG_LAST = 0x04


def missing_part(path: Path, file: SoundFile) -> str | None:
    """Say what a WAV, AIFF or OGG lacks, as half a sentence; None when it is whole.

    FLAC isn't judged here: reading it shows what is missing.
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
    """Whether the file ends with a whole page that says it is the last one.

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
