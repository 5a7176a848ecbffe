"""Events that the journal can't take yet, kept in a second place so that they outlive the program.

The file lies beside the journal, or, where that disk is the trouble, in the user's state folder. It
holds one event a line as JSON. Opening the journal takes it in and removes it.
"""

from __future__ import annotations

import hashlib
import json
import os
from collections.abc import Iterable
from contextlib import suppress
from pathlib import Path

import platformdirs

from handsfree.errors import JournalError
from handsfree.record.event import Event
from handsfree.record.form import COLUMNS, columns, event_of


class Unsaved:
    """The second place of one journal."""

    def __init__(self, journal: Path) -> None:
        name = hashlib.sha256(os.fsencode(journal)).hexdigest()[:32]
        state = Path(platformdirs.user_state_dir("handsfree", appauthor=False))
        self._places = (journal.with_name(journal.name + ".unsaved"), state / "unsaved" / f"{name}.unsaved")

    def keep(self, events: Iterable[Event]) -> Path | None:
        """Write these events, in place of what was kept before; give the file, or None if none can be."""
        text = "".join(json.dumps(columns(event)) + "\n" for event in events)
        for place in self._places:
            if _written(place, text):
                return place
        return None

    def read(self) -> list[Event]:
        """Give the events that are kept, in order, without lines that a crash tore."""
        found: dict[str, Event] = {}
        for place in self._places:
            with suppress(OSError):
                for line in place.read_text(encoding="utf-8", errors="replace").splitlines():
                    with suppress(ValueError, TypeError, AttributeError, JournalError):
                        event = event_of({**dict.fromkeys(COLUMNS), **json.loads(line)})
                        found.setdefault(event.id, event)
        return sorted(found.values(), key=lambda event: event.seq)

    def forget(self) -> None:
        """Remove what is kept: it is in the journal now."""
        for place in self._places:
            with suppress(OSError):
                place.unlink()


def _written(place: Path, text: str) -> bool:
    fresh = place.with_name(place.name + ".new")
    try:
        place.parent.mkdir(parents=True, exist_ok=True)
        with fresh.open("w", encoding="utf-8") as file:
            file.write(text)
            file.flush()
            os.fsync(file.fileno())
        fresh.replace(place)
    except OSError:
        with suppress(OSError):
            fresh.unlink()
        return False
    return True
