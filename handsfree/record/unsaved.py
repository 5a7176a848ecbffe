"""Events that the journal can't take yet, kept in a second place so that they outlive the program.

The file lies beside the journal, or, where that disk is the trouble, in the user's state folder. It
holds the journal's identity and one event a line as JSON. Opening the journal takes it in and removes it.
"""

from __future__ import annotations

import hashlib
import json
import os
from collections.abc import Sequence
from contextlib import suppress
from pathlib import Path
from uuid import UUID

import platformdirs

from handsfree.errors import JournalError
from handsfree.files import make_private_folder, mend, write_whole
from handsfree.record.event import Event
from handsfree.record.form import COLUMNS, columns, event_of


class Unsaved:
    """The second place of one journal."""

    def __init__(self, journal: Path) -> None:
        name = hashlib.sha256(os.fsencode(journal)).hexdigest()[:32]
        state = Path(platformdirs.user_state_dir("handsfree", appauthor=False))
        self._places = (journal.with_name(journal.name + ".unsaved"), state / "unsaved" / f"{name}.unsaved")

    def keep(self, events: Sequence[Event], owner: str) -> Path | None:
        """Write these events, in place of what was kept before; give the file, or None if none can be.

        Args:
            events: what the journal can't take, in order.
            owner: id of the journal's first event, "" where it has none yet.
        """
        lines = [json.dumps({"journal": owner}), *(json.dumps(columns(event)) for event in events)]
        for place in self._places:
            if _written(place, "\n".join(lines) + "\n"):
                return place
        return None

    def read(self, owner: str, *, aside: bool = True) -> list[Event]:
        """Give the events that are kept for the journal that begins with the event `owner`, in order.

        A line that a crash tore is left out. What was kept for another journal of this name, deleted
        since, is put aside under another name: it isn't this journal's, but it isn't thrown away.
        `aside` False leaves it where it is, for those who only read.
        """
        mend(self._places[1].parent)
        found: dict[str, Event] = {}
        for place in self._places:
            with suppress(OSError):
                first, *lines = place.read_text(encoding="utf-8", errors="replace").splitlines() or [""]
                if _owner(first) not in (owner, ""):
                    if aside:
                        place.replace(place.with_name(f"{place.name}-{_owner(first)}"))
                    continue
                for line in lines:
                    with suppress(ValueError, TypeError, AttributeError, JournalError):
                        event = event_of({**dict.fromkeys(COLUMNS), **json.loads(line)})
                        found.setdefault(event.id, event)
        return sorted(found.values(), key=lambda event: event.seq)

    def forget(self) -> None:
        """Remove what is kept: it is in the journal now."""
        for place in self._places:
            with suppress(OSError):
                place.unlink()


def _owner(line: str) -> str:
    with suppress(ValueError, TypeError, KeyError):
        return str(UUID(json.loads(line)["journal"]))
    return ""


def _written(place: Path, text: str) -> bool:
    try:
        if not place.parent.is_dir():
            make_private_folder(place.parent)
        write_whole(place, text.encode(), private=True)
    except OSError:
        return False
    return True
