"""Events that the journal can't take yet, kept in a second place so that they outlive the program.

The file lies beside the journal, or, where that disk is the trouble, in the user's state folder. Its first
line says whose events they are, how many, and the hash of the last; then comes one event a line as
JSON, with the hash before it and its own, as in the journal's chain. Opening the journal takes it in
and removes it. What doesn't fit its hash isn't taken in: the file is kept aside, and it is said.

Older versions kept no hashes; such a file is taken in as it is.
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
from handsfree.journal.chain import link
from handsfree.journal.columns import COLUMNS, columns, event_of
from handsfree.journal.event import Event

_FORM = 2


@dataclass(frozen=True, slots=True)
class _Kept:
    """What one file holds: its events in order, and what is wrong with it, in words.

    owner: None where the first line, which says whose they are, can't be read. follows: the hash
    before the first event.
    """

    owner: str | None = ""
    follows: str = ""
    events: tuple[Event, ...] = ()
    wrong: tuple[str, ...] = ()


@dataclass
class Found:
    """What is kept for a journal. events: in order. reports: a sentence on each file that isn't whole."""

    events: list[Event] = field(default_factory=list)
    reports: list[str] = field(default_factory=list)


class Unsaved:
    """The second place of one journal."""

    def __init__(self, journal: Path) -> None:
        name = hashlib.sha256(os.fsencode(journal)).hexdigest()[:32]
        state = Path(platformdirs.user_state_dir("handsfree", appauthor=False))
        self._places = (journal.with_name(journal.name + ".unsaved"), state / "unsaved" / f"{name}.unsaved")

    def keep(self, events: Sequence[Event], owner: str, follows: str) -> Path | None:
        """Write these events, in place of what was kept before; give the file, or None if none can be.

        Args:
            events: what the journal can't take, in order.
            owner: id of the journal's first event, "" where it has none yet.
            follows: hash of the journal's last event.
        """
        text = _written(events, owner, follows)
        for place in self._places:
            if kept_whole(place, text.encode()):
                return place
        return None

    def read(self, owner: str, head: str, *, aside: bool = True) -> Found:
        """Give the events that are kept for a journal, in order.

        A line that doesn't fit its hash is left out, and reported. What was kept for another journal
        of this name, deleted since, isn't this journal's. Both are put aside under another name: nothing
        is thrown away.

        Args:
            owner: id of the journal's first event, "" where it has none.
            head: hash of its last event.
            aside: False leaves the files where they are, for those who only read.

        Raises:
            JournalError: there is no room to put a file aside.
        """
        mend(self._places[1].parent)
        events: dict[str, Event] = {}
        found = Found()
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
            # Without its first line nobody knows whose the events are, unless they follow the last one.
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
        """Copy a file aside under a name that says what is in it, so that the same gets the same name.

        last: nothing is taken in from it, so that nobody will remove it later on.
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
        """Remove what is kept: it is in the journal now."""
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
    first: dict[str, Any] = {"journal": owner, "form": _FORM, "events": len(lines), "last": last}
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
    """Give the event of a line that fits its hash; None for any other line."""
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
    """Write a private file whole or not at all; say whether there was room for it."""
    try:
        if not place.parent.is_dir():
            make_private_folder(place.parent)
        write_whole(place, content, private=True)
    except OSError:
        return False
    return True
