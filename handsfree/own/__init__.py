"""A person's own voice: what to read aloud, what was confused, and the adjustment learned from it.

Learning stands apart in `handsfree.own.learning`: whoever only hears, as at every start, needs none of it.
"""

from handsfree.own.adaptation import (
    Adaptation,
    adaptation_path,
    load_adaptation,
    remove_adaptation,
    save_adaptation,
    text_of,
)
from handsfree.own.confusions import Confusion, aligned, confusions
from handsfree.own.forms import collides, found_form, plain_text
from handsfree.own.phrases import Phrase, not_read, phrases_to_read
from handsfree.own.shelf import rehearsal_folder, rehearsals, write_row

__all__ = [
    "Adaptation",
    "Confusion",
    "Phrase",
    "adaptation_path",
    "aligned",
    "collides",
    "confusions",
    "found_form",
    "load_adaptation",
    "not_read",
    "phrases_to_read",
    "plain_text",
    "rehearsal_folder",
    "rehearsals",
    "remove_adaptation",
    "save_adaptation",
    "text_of",
    "write_row",
]
