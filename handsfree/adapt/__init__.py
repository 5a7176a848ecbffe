"""Speaker adaptation: phrases to read aloud, confused words, and the learned adjustment."""

from handsfree.adapt.adaptation import (
    Adaptation,
    adaptation_path,
    load_adaptation,
    remove_adaptation,
    save_adaptation,
    text_of,
)
from handsfree.adapt.learning import FEWEST, WRONG_COSTS, Learned, OwnRecording, learn
from handsfree.adapt.rehearsal import not_read, phrases_to_read, rehearsal_folder, rehearsals, write_row
from handsfree.adapt.spellings import Confusion, confusions, plain_text
from handsfree.adapt.work import Offer, Recording, offered_by_journals

__all__ = [
    "FEWEST",
    "WRONG_COSTS",
    "Adaptation",
    "Confusion",
    "Learned",
    "Offer",
    "OwnRecording",
    "Recording",
    "adaptation_path",
    "confusions",
    "learn",
    "load_adaptation",
    "not_read",
    "offered_by_journals",
    "phrases_to_read",
    "plain_text",
    "rehearsal_folder",
    "rehearsals",
    "remove_adaptation",
    "save_adaptation",
    "text_of",
    "write_row",
]
