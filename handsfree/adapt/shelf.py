"""The storage of rehearsals: folders of recordings with a manifest, in the user's own data folder."""

from __future__ import annotations

import csv
import io
import os
from collections.abc import Sequence
from datetime import datetime
from pathlib import Path

from handsfree.errors import ScoreError
from handsfree.files import make_private_folder, mend, write_whole
from handsfree.length import plain
from handsfree.recordings import NAME, ManifestRow

COLUMNS = ("file", "voice", "kind", "text", "cylinder", "ring", "value", "unit", "feel", "place")


def shelf() -> Path:
    """Return the folder of all rehearsals, which may not exist."""
    import platformdirs

    return Path(platformdirs.user_data_path("handsfree", appauthor=False)) / "rehearsals"


def rehearsals() -> list[Path]:
    """Return the folders of all rehearsals in the user's data, oldest first."""
    root = shelf()
    mend(root)
    return sorted(path for path in root.iterdir() if (path / NAME).is_file()) if root.is_dir() else []


def rehearsal_folder(now: datetime, folder: Path | None = None) -> Path:
    """Create the folder of a new rehearsal; by default in the user's data, named after its time.

    Raises:
        ScoreError: it already holds recordings, or can't be created.
    """
    name = now.strftime("%Y-%m-%d-%H%M%S")
    path = folder or shelf() / name
    number = 1
    while folder is None and path.exists():  # two rehearsals in one second
        number += 1
        path = shelf() / f"{name}-{number}"
    if (path / NAME).exists():
        raise ScoreError(f"{path} holds recordings already; name another folder")
    try:
        mend(shelf())
        if not path.is_dir():  # an existing folder may have other uses too
            make_private_folder(path)
        write_whole(path / NAME, _line(COLUMNS), private=True, fresh=True)
    except OSError as error:
        raise ScoreError(
            f"{path} can't be made to keep recordings in: {error.strerror or error}; name another with --to"
        ) from error
    return path


def write_row(folder: Path, row: ManifestRow) -> None:
    """Add a recording to the folder's manifest; it is on disk before this returns.

    Raises:
        ScoreError: it can't be written.
    """
    place = "; ".join(f"{axis}={label}" for axis, label in row.place)
    cells = {
        "file": row.file,
        "voice": row.voice,
        "kind": row.kind,
        "text": row.text,
        "cylinder": row.cylinder or "",
        "ring": row.ring or "",
        "value": plain(row.value.value) if row.value else "",
        "unit": row.value.unit.value if row.value else "",
        "feel": row.feel or "",
        "place": place,
    }
    try:
        with (folder / NAME).open("ab") as file:
            file.write(_line([cells[column] for column in COLUMNS]))
            file.flush()
            os.fsync(file.fileno())
    except OSError as error:
        raise ScoreError(f"{folder / NAME} can't be written: {error.strerror or error}") from error


def _line(cells: Sequence[str]) -> bytes:
    text = io.StringIO(newline="")
    csv.writer(text).writerow(cells)
    return text.getvalue().encode()
