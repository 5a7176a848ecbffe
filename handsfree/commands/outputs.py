"""Safe output of commands: never onto a file that can't be reproduced."""

from __future__ import annotations

import os
import tomllib
from collections.abc import Iterable
from pathlib import Path

from handsfree.errors import HandsfreeError
from handsfree.files import write_whole
from handsfree.visible import for_terminal

_LARGEST_PLAN = 2_000_000  # bytes; larger files are not examined


def print_line(text: str) -> None:
    """Print a line at once, without control characters."""
    print(for_terminal(text), flush=True)


def write_output(path: Path, content: bytes, inputs: Iterable[Path] = ()) -> None:
    """Write a command's output file atomically.

    Args:
        path: the file.
        content: all of it.
        inputs: the command's input files.

    Raises:
        HandsfreeError: it can't be written, or is a protected file.
    """
    refuse_onto(path, inputs)
    try:
        write_whole(path, content)
    except (OSError, ValueError) as fault:
        reason = getattr(fault, "strerror", None) or fault
        raise HandsfreeError(f'"{path}" can\'t be written: {reason}; name another file.') from fault


def refuse_onto(path: Path, inputs: Iterable[Path] = ()) -> None:
    """Refuse to overwrite protected files: journals, files beside them, plans and inputs.

    Links are followed, and two names of one file count as the same.

    Raises:
        HandsfreeError: it is one of these.
    """
    what = _precious(Path(os.path.realpath(path)), inputs)
    if what is not None:
        raise HandsfreeError(f'"{path}" is {what}, so nothing is written over it; name another file.')


def _precious(path: Path, inputs: Iterable[Path]) -> str | None:
    from handsfree.journal import COMPANIONS, SOUNDS, is_journal

    if any(_same(path, one) for one in inputs):
        return "what this command reads"
    if is_journal(path):
        return "a journal"
    beside = [path.name.removesuffix(end) for end in COMPANIONS if path.name.endswith(end)]
    if any(is_journal(path.with_name(name)) for name in beside if name):
        return "part of a journal"
    folder = path.parent
    if folder.name.endswith(SOUNDS) and is_journal(folder.with_name(folder.name.removesuffix(SOUNDS))):
        return "in the folder of a journal's sounds"
    return "a plan" if _is_plan(path) else None


def _same(path: Path, other: Path) -> bool:
    try:
        return path.samefile(other)
    except (OSError, ValueError):  # one of them doesn't exist yet
        return path == Path(os.path.realpath(other))


def _is_plan(path: Path) -> bool:
    try:
        if not path.is_file() or path.stat().st_size > _LARGEST_PLAN:
            return False
        table = tomllib.loads(path.read_bytes().decode("utf-8-sig"))
    except (OSError, ValueError, RecursionError):
        return False
    return "check" in table and "engine" in table
