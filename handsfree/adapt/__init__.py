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
from handsfree.adapt.people import (
    ENOUGH,
    ME,
    People,
    Spoke,
    forget_voices,
    load_voices,
    voices_path,
)
from handsfree.adapt.rehearsal import not_read, phrases_to_read, rehearsal_folder, rehearsals, write_row
from handsfree.adapt.spellings import Confusion, confusions, plain_text
from handsfree.adapt.work import Offer, Recording, offered_by_journals

__all__ = [
    "ENOUGH",
    "FEWEST",
    "ME",
    "WRONG_COSTS",
    "Adaptation",
    "Confusion",
    "Learned",
    "Offer",
    "OwnRecording",
    "People",
    "Recording",
    "Spoke",
    "adaptation_path",
    "confusions",
    "forget_voices",
    "learn",
    "load_adaptation",
    "load_voices",
    "not_read",
    "offered_by_journals",
    "phrases_to_read",
    "plain_text",
    "rehearsal_folder",
    "rehearsals",
    "remove_adaptation",
    "save_adaptation",
    "text_of",
    "voices_path",
    "write_row",
]
