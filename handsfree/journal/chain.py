"""The hash chain of events: none can be altered, removed or moved undetected.

The hash of an event is SHA-256 over the hash before it (64 hexadecimal digits, zeros for the first
event), a line feed, and the event's canonical form: a JSON object of its non-empty columns, with every
float written as text. With only text and whole numbers in it, this is also the form of RFC 8785 (JSON
Canonicalization Scheme), so any language can compute it.

The chain proves that nothing before a known hash was changed. A person who can write the file can still
make a whole new chain: so the build sheet and the shop's database keep the last hash elsewhere.
"""

from __future__ import annotations

import hashlib
import json
from collections.abc import Iterable, Mapping

from handsfree.journal.columns import Cell, columns
from handsfree.journal.event import Event

START = "0" * 64


def canonical(cells: Mapping[str, Cell]) -> bytes:
    """Return an event's columns as canonical JSON, UTF-8.

    Empty columns are left out, so that a column added by a later version doesn't change today's hashes.
    """
    kept = {
        name: repr(cell) if isinstance(cell, float) else cell
        for name, cell in cells.items()
        if cell is not None
    }
    return json.dumps(kept, ensure_ascii=False, sort_keys=True, separators=(",", ":")).encode()


def link(previous: str, cells: Mapping[str, Cell]) -> str:
    """Return the hash of an event, given its columns and the hash `previous` of the event before it."""
    return hashlib.sha256(previous.encode() + b"\n" + canonical(cells)).hexdigest()


def head(events: Iterable[Event]) -> str:
    """Return the hash of the last of these events, counted from the journal's start."""
    last = START
    for event in events:
        last = link(last, columns(event))
    return last
