"""The append-only journal: events, their chain, the store, verification, the shop's copy."""

from handsfree.journal.cells import Cell
from handsfree.journal.columns import COLUMNS, columns, event_of, head, storable, utc_text
from handsfree.journal.event import Draft, Event, Heard, Kind, LeafSide
from handsfree.journal.going_on import Opened, open_to_go_on
from handsfree.journal.journal import Journal
from handsfree.journal.share import Shared, Shop, address, share
from handsfree.journal.sounds import SAMPLERATE_HZ, Sounds, flac
from handsfree.journal.store import COMPANIONS, SOUNDS, is_journal
from handsfree.journal.verify import verify

__all__ = [
    "COLUMNS",
    "COMPANIONS",
    "SAMPLERATE_HZ",
    "SOUNDS",
    "Cell",
    "Draft",
    "Event",
    "Heard",
    "Journal",
    "Kind",
    "LeafSide",
    "Opened",
    "Shared",
    "Shop",
    "Sounds",
    "address",
    "columns",
    "event_of",
    "flac",
    "head",
    "is_journal",
    "open_to_go_on",
    "share",
    "storable",
    "utc_text",
    "verify",
]
