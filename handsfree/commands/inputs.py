"""The inputs that a command names: sound files, folders of them, lists, key files."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from pathlib import Path

from handsfree.errors import SoundError
from handsfree.textfile import lines_of, read_text
from handsfree.visible import shown

SOUND_ENDINGS = frozenset({".wav", ".flac", ".ogg", ".oga", ".opus", ".aif", ".aiff", ".au", ".mp3"})
KEYS_ENDING = ".keys"


def named_files(names: Sequence[str]) -> list[Path]:
    """Return the files that arguments name: a file, a folder's sounds and key files, or @ and a list.

    A list holds one name a line, taken from the list's own folder where it isn't absolute. All are
    looked up before the first is used, so that a list that can't be read stops nothing half done.

    Raises:
        SoundError: a list or folder that can't be read.
    """
    return [path for name in names for path in _named(name)]


def _named(name: str) -> Iterator[Path]:
    path = Path(name)
    if name.startswith("@"):
        yield from _listed(Path(name[1:]))
    elif _is_folder(path):
        yield from _sounds_in(path)
    else:
        yield path


def _is_folder(path: Path) -> bool:
    try:
        return path.is_dir()
    except OSError:  # a name that is too long, or a folder closed to us: reading it says so
        return False


def _sounds_in(folder: Path) -> list[Path]:
    try:
        return sorted(p for p in folder.iterdir() if p.suffix.lower() in {*SOUND_ENDINGS, KEYS_ENDING})
    except OSError as error:
        why = error.strerror or error
        raise SoundError(f"{shown(folder)}: the folder can't be read ({why}); check it") from None


def _listed(listing: Path) -> Iterator[Path]:
    for line in lines_of(read_text(listing, "list", SoundError)):
        if line.strip():
            yield listing.parent / line.strip()


def is_keys(path: Path) -> bool:
    """Whether a file holds key presses."""
    return path.suffix.lower() == KEYS_ENDING
