"""The inputs that a command names: sound files, folders of them, lists, key files."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from pathlib import Path

from handsfree.errors import SoundError

SOUND_ENDINGS = frozenset({".wav", ".flac", ".ogg", ".oga", ".opus", ".aif", ".aiff", ".au", ".mp3"})
KEYS_ENDING = ".keys"


def named_files(names: Sequence[str]) -> Iterator[Path]:
    """Give the files that arguments name: a file, a folder's sounds and key files, or @ and a list.

    A list holds one name a line, taken from the list's own folder where it isn't absolute.

    Raises:
        SoundError: a list or folder that isn't there.
    """
    for name in names:
        if name.startswith("@"):
            yield from _listed(Path(name[1:]))
            continue
        path = Path(name)
        if path.is_dir():
            yield from sorted(p for p in path.iterdir() if p.suffix.lower() in {*SOUND_ENDINGS, KEYS_ENDING})
        else:
            yield path


def _listed(listing: Path) -> Iterator[Path]:
    try:
        lines = listing.read_text(encoding="utf-8").splitlines()
    except OSError as error:
        raise SoundError(f'list "{listing}" can\'t be read: {error.strerror or error}') from error
    for line in lines:
        if line.strip():
            yield listing.parent / line.strip()


def is_keys(path: Path) -> bool:
    """Whether a file holds key presses."""
    return path.suffix.lower() == KEYS_ENDING
