"""Writes files whole or not at all, and files that only their owner may read.

Measurements, names and the sound of a voice are private: journals and their companion files have mode 0600,
their folders 0700, whatever the umask. On Windows, where a user's folders have access lists instead, the
modes have no effect.
"""

from __future__ import annotations

import os
import secrets
import stat
from contextlib import suppress
from pathlib import Path

PRIVATE_FILE, PRIVATE_FOLDER = 0o600, 0o700
_OTHERS = 0o077
_BINARY = getattr(os, "O_BINARY", 0)  # otherwise Windows would change line ends


def write_whole(
    path: Path, content: bytes, *, private: bool = False, fresh: bool = False, forced: bool = True
) -> None:
    """Write a file whole or not at all: its name leads to the new content or to the old.

    A link is followed. A terminal or a pipe is written to directly.

    Args:
        path: the file; its folder must exist.
        content: the whole content.
        private: readable by its owner only; otherwise it keeps its mode, or gets the usual one.
        fresh: refuse an existing name.
        forced: on the disk before this returns; False if losing it in a power cut does no harm.

    Raises:
        FileExistsError: `fresh`, and the name exists.
        OSError: it can't be written; the old content is still there.
    """
    there = None if fresh else _mode(path)
    if there is not None and not stat.S_ISREG(there) and not stat.S_ISDIR(there):
        path.write_bytes(content)
        return
    path = path if fresh else Path(os.path.realpath(path))
    part = path.with_name(f".{secrets.token_hex(8)}.part")
    opened = os.open(part, os.O_WRONLY | os.O_CREAT | os.O_EXCL | _BINARY, PRIVATE_FILE if private else 0o666)
    try:
        with os.fdopen(opened, "wb") as file:
            if private:
                part.chmod(PRIVATE_FILE)  # the umask may have removed bits
            elif there is not None:
                part.chmod(stat.S_IMODE(there))
            file.write(content)
            file.flush()
            if forced:
                os.fsync(file.fileno())
        _rename(part, path, fresh=fresh)
    except BaseException:
        with suppress(OSError):
            part.unlink()
        raise
    if forced:
        force_folder(path.parent)


def make_private_file(path: Path) -> bool:
    """Create an empty private file if it is missing; return whether it was created.

    Raises:
        OSError: it can't be created.
    """
    try:
        os.close(os.open(path, os.O_WRONLY | os.O_CREAT | os.O_EXCL, PRIVATE_FILE))
    except FileExistsError:
        return False
    path.chmod(PRIVATE_FILE)
    return True


def make_private_folder(path: Path) -> None:
    """Create a private folder and its missing parents; make an existing folder private.

    Raises:
        OSError: it can't be created.
    """
    missing = [path, *path.parents]
    missing = missing[: next((n for n, each in enumerate(missing) if each.exists()), len(missing))]
    for each in reversed(missing):
        each.mkdir(mode=PRIVATE_FOLDER, exist_ok=True)
        each.chmod(PRIVATE_FOLDER)
    mend(path)


def mend(path: Path) -> None:
    """Remove other users' access to a file, or to a folder and all its content.

    Files that can't be changed (another user's, on a read-only disk) stay as they are. The content of a
    folder that is already private is skipped: others can't reach it.
    """
    if os.name != "posix":
        return
    with suppress(OSError):
        mode = path.lstat().st_mode
        if stat.S_ISLNK(mode) or not mode & _OTHERS:
            return
        path.chmod(stat.S_IMODE(mode) & ~_OTHERS)
        if stat.S_ISDIR(mode):
            for each in path.iterdir():
                mend(each)


def _mode(path: Path) -> int | None:
    try:
        return path.stat().st_mode
    except FileNotFoundError:
        return None


def _rename(part: Path, path: Path, *, fresh: bool) -> None:
    if not fresh:
        part.replace(path)
        return
    try:
        path.hardlink_to(part)  # unlike renaming, this fails if the name exists
    except FileExistsError:
        raise
    except OSError:  # a disk without hard links
        if os.path.lexists(path):
            raise FileExistsError(f"{path} is there already") from None
        part.replace(path)
    else:
        part.unlink()


def force_folder(folder: Path) -> None:
    """Force a folder's new names to the disk; Windows does this itself."""
    if os.name == "posix":
        with suppress(OSError):
            held = os.open(folder, os.O_RDONLY)
            try:
                os.fsync(held)
            finally:
                os.close(held)
