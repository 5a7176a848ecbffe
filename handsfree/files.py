"""Files that are written whole or not at all, and files that their owner alone may read.

What was measured, by whom, and the sound of a voice are nobody else's business: journals and all that
lies beside them have mode 0600, their folders 0700, whatever the umask. On Windows, where a user's
folders have access lists instead, the modes change nothing.
"""

from __future__ import annotations

import os
import secrets
import stat
from contextlib import suppress
from pathlib import Path

PRIVATE_FILE, PRIVATE_FOLDER = 0o600, 0o700
_OTHERS = 0o077
_BINARY = getattr(os, "O_BINARY", 0)  # Windows would change line ends otherwise


def write_whole(
    path: Path, content: bytes, *, private: bool = False, fresh: bool = False, forced: bool = True
) -> None:
    """Write a file so that its name leads to all of the content or to what was there before.

    A link is followed. What isn't a file (a terminal, a pipe) is written to as it is.

    Args:
        path: the file; its folder must be there.
        content: all of it.
        private: for its owner alone; otherwise it keeps the mode that it has, or gets the usual one.
        fresh: refuse a name that is taken.
        forced: on the disk before this returns; False where losing it to a power cut does no harm.

    Raises:
        FileExistsError: `fresh`, and the name is taken.
        OSError: it can't be written; what was there is still there.
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
                part.chmod(PRIVATE_FILE)  # the umask may have taken from it
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
    """Make an empty file for its owner alone where there is none; say whether it was made.

    Raises:
        OSError: it can't be made.
    """
    try:
        os.close(os.open(path, os.O_WRONLY | os.O_CREAT | os.O_EXCL, PRIVATE_FILE))
    except FileExistsError:
        return False
    path.chmod(PRIVATE_FILE)
    return True


def make_private_folder(path: Path) -> None:
    """Make a folder, and what is missing above it, for its owner alone; mend one that others may enter.

    Raises:
        OSError: it can't be made.
    """
    missing = [path, *path.parents]
    missing = missing[: next((n for n, each in enumerate(missing) if each.exists()), len(missing))]
    for each in reversed(missing):
        each.mkdir(mode=PRIVATE_FOLDER, exist_ok=True)
        each.chmod(PRIVATE_FOLDER)
    mend(path)


def mend(path: Path) -> None:
    """Take from others what they may do with a file, or with a folder and all that is in it.

    What can't be changed (another user's, a read-only disk) stays as it is. A folder that was closed
    to others already isn't looked into: they can't reach what is in it.
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
        path.hardlink_to(part)  # unlike renaming, this fails where the name is taken
    except FileExistsError:
        raise
    except OSError:  # a disk without hard links
        if os.path.lexists(path):
            raise FileExistsError(f"{path} is there already") from None
        part.replace(path)
    else:
        part.unlink()


def force_folder(folder: Path) -> None:
    """Force a folder's new names to the disk; Windows does it by itself."""
    if os.name == "posix":
        with suppress(OSError):
            held = os.open(folder, os.O_RDONLY)
            try:
                os.fsync(held)
            finally:
                os.close(held)
