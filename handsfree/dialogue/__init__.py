"""The bench's response to a command: pure, from a session and a command to events and an answer.

Nothing is stored or spoken here; `handsfree.bench` does both, storing first.
"""

from handsfree.dialogue.advice import SharedOut, shared_out
from handsfree.dialogue.answer import Answer, place_of
from handsfree.dialogue.measured import asks_first, judged_anew, to_judge
from handsfree.dialogue.places import still_open
from handsfree.dialogue.questions import (
    ABOUT_AGAIN,
    ABOUT_FINISH,
    about,
    can_be_meant,
    candidates,
    chosen_by,
    replies_to,
)
from handsfree.dialogue.respond import greeting, respond, respond_to_decision, together

__all__ = [
    "ABOUT_AGAIN",
    "ABOUT_FINISH",
    "Answer",
    "SharedOut",
    "about",
    "asks_first",
    "can_be_meant",
    "candidates",
    "chosen_by",
    "greeting",
    "judged_anew",
    "place_of",
    "replies_to",
    "respond",
    "respond_to_decision",
    "shared_out",
    "still_open",
    "to_judge",
    "together",
]
