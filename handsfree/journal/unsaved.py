"""Events that can't be written to the journal yet, kept in a second file so that they outlive the program.

The file lies beside the journal or, if that disk is the trouble, in the user's state folder. Its first line
holds the journal's identity, the number of events, and the hash of the last; each further line is one event
as JSON, with the previous hash and its own, as in the journal's chain. Opening the journal appends these
events and removes the file. Events that don't fit their hash are left out: the file is then put aside, and
this is reported.

Older versions kept no hashes; all events of such a file are appended.
"""

from __future__ import annotations

import hashlib
import json
import os
from collections.abc import Mapping, Sequence
from contextlib import suppress
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any
from uuid import UUID

import platformdirs

from handsfree.errors import JournalError
from handsfree.files import make_private_folder, mend, write_whole
from handsfree.journal.cells import object_of
from handsfree.journal.columns import COLUMNS, columns, event_of, link
from handsfree.journal.event import Event

_FORMAT = 2


@dataclass(frozen=True, slots=True)
class _Kept:
    """Content of one file: its events in order, and a sentence on what is wrong with it.

    owner: id of the journal's first event; None if the first line can't be read. follows: the hash
    before the first event.
    """

    owner: str | None = ""
    follows: str = ""
    events: tuple[Event, ...] = ()
    wrong: tuple[str, ...] = ()


@dataclass
class KeptEvents:
    """Kept events of a journal, in order. reports: a sentence on each damaged file."""

    events: list[Event] = field(default_factory=list)
    reports: list[str] = field(default_factory=list)


class Unsaved:
    """The second file of one journal."""

    def __init__(self, journal: Path) -> None:
        name = hashlib.sha256(os.fsencode(journal)).hexdigest()[:32]
        state = Path(platformdirs.user_state_dir("handsfree", appauthor=False))
        self._places = (journal.with_name(journal.name + ".unsaved"), state / "unsaved" / f"{name}.unsaved")

    def keep(self, events: Sequence[Event], owner: str, follows: str) -> Path | None:
        """Write these events in place of those kept before; return the file, or None if that fails.

        Args:
            events: events that the journal can't take, in order.
            owner: id of the journal's first event, "" if it has none yet.
            follows: hash of the journal's last event.
        """
        text = _written(events, owner, follows)
        for place in self._places:
            if kept_whole(place, text.encode()):
                return place
        return None

    def read(self, owner: str, head: str, *, aside: bool = True) -> KeptEvents:
        """Return the kept events of a journal, in order.

        A line that doesn't fit its hash is left out and reported; so are events of another journal of this
        name, deleted since. Their files are put aside under another name: nothing is thrown away.

        Args:
            owner: id of the journal's first event, "" if it has none.
            head: hash of its last event.
            aside: False leaves the files where they are, for reading only.

        Raises:
            JournalError: there is no room to put a file aside.
        """
        mend(self._places[1].parent)
        events: dict[str, Event] = {}
        found = KeptEvents()
        for place in self._places:
            try:
                held = place.read_bytes()
            except OSError:
                continue
            kept = _parsed(held)
            if kept.owner not in (owner, "", None):
                if aside:
                    with suppress(OSError):
                        place.replace(place.with_name(f"{place.name}-{kept.owner}"))
                continue
            # Without the first line the owner is unknown, unless the events follow the journal's last one.
            taken = kept.events if kept.owner is not None or kept.follows == head else ()
            if kept.wrong:
                where = self._put_aside(place, held, last=not taken) if aside else place
                found.reports.append(
                    f"What was kept in {place} until it could be written is damaged "
                    f"({', '.join(kept.wrong)}): that isn't taken in. All of it is in {where}; look "
                    "there, and measure again what is missing."
                )
            for event in taken:
                events.setdefault(event.id, event)
        found.events = sorted(events.values(), key=lambda event: event.seq)
        return found

    def _put_aside(self, place: Path, held: bytes, *, last: bool) -> Path:
        """Copy a file aside under a name with its content's hash: the same content gets the same name.

        last: remove the original too, because no event of it is taken and so nothing will remove it later.
        """
        mark = f"-damaged-{hashlib.sha256(held).hexdigest()[:12]}"
        for beside in (place, *self._places):
            aside = beside.with_name(beside.name + mark)
            if aside.exists() or kept_whole(aside, held):
                if last:
                    with suppress(OSError):
                        place.unlink()
                return aside
        raise JournalError(f"{place} is damaged, and there is no room to put it aside; free some space.")

    def forget(self) -> None:
        """Remove the kept events: they are in the journal now."""
        for place in self._places:
            with suppress(OSError):
                place.unlink()


def _written(events: Sequence[Event], owner: str, follows: str) -> str:
    lines, last = [], follows
    for event in events:
        cells = columns(event)
        own = link(last, cells)
        filled = {name: cell for name, cell in cells.items() if cell is not None}
        lines.append(json.dumps({"previous": last, "hash": own, "event": filled}))
        last = own
    first: dict[str, Any] = {"journal": owner, "form": _FORMAT, "events": len(lines), "last": last}
    first["check"] = _check(first)
    return "\n".join([json.dumps(first), *lines]) + "\n"


def _parsed(held: bytes) -> _Kept:
    first, *lines = held.decode("utf-8", "replace").split("\n")
    head = _object(first)
    if head is not None and set(head) == {"journal"}:
        return _before_hashes(_owner(head), lines)
    if lines and lines[-1] == "":
        lines.pop()
    linked = [_linked(line) for line in lines]
    wrong = [f"event {number} of it" for number, one in enumerate(linked, start=1) if one is None]
    links = [one for one in linked if one is not None]
    events, follows = tuple(one.event for one in links), links[0].previous if links else ""
    if head is None or head.get("check") != _check(head):
        return _Kept(None, follows, events, ("its first line", *wrong))
    last = links[-1].hash if links else follows
    if len(lines) != head.get("events") or (not wrong and last != head.get("last")):
        wrong.append("its end")
    return _Kept(_owner(head), follows, events, tuple(wrong))


@dataclass(frozen=True, slots=True)
class _Link:
    """An event that fits its hash."""

    event: Event
    previous: str
    hash: str


def _linked(line: str) -> _Link | None:
    """Return the event of a line that fits its hash; None for any other line."""
    held = _object(line)
    with suppress(ValueError, TypeError, KeyError, AttributeError, JournalError):
        if held is not None and held["hash"] == link(held["previous"], held["event"]):
            event = event_of({**dict.fromkeys(COLUMNS), **held["event"]})
            return _Link(event, held["previous"], held["hash"])
    return None


def _before_hashes(owner: str, lines: Sequence[str]) -> _Kept:
    events, wrong = [], []
    for number, line in enumerate(lines, start=1):
        if not line:
            continue
        try:
            events.append(event_of({**dict.fromkeys(COLUMNS), **(_object(line) or {})}))
        except (ValueError, TypeError, AttributeError, JournalError):
            wrong.append(f"event {number} of it")
    return _Kept(owner, "", tuple(events), tuple(wrong))


def _object(line: str) -> dict[str, Any] | None:
    with suppress(ValueError):
        return object_of("line", line)
    return None


def _owner(head: Mapping[str, Any] | None) -> str:
    with suppress(ValueError):
        return "" if head is None else str(UUID(str(head.get("journal"))))
    return ""


def _check(head: Mapping[str, Any]) -> str:
    told = {name: value for name, value in head.items() if name != "check"}
    return hashlib.sha256(json.dumps(told, sort_keys=True).encode()).hexdigest()


def kept_whole(place: Path, content: bytes) -> bool:
    """Write a private file whole or not at all; return whether it was written."""
    try:
        if not place.parent.is_dir():
            make_private_folder(place.parent)
        write_whole(place, content, private=True)
    except OSError:
        return False
    return True
