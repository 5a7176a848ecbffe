"""What the bench does about a command: pure, from a session and a command to events and an answer.

Nothing is stored and nothing is spoken here; `handsfree.bench` does both, the storing first.
"""

from handsfree.dialogue.anew import judged_anew, to_judge
from handsfree.dialogue.answer import Answer
from handsfree.dialogue.measured import asks_first
from handsfree.dialogue.places import still_open
from handsfree.dialogue.possible import can_be_meant
from handsfree.dialogue.replies import replies_to
from handsfree.dialogue.respond import greeting, respond, respond_to_decision, together
from handsfree.dialogue.sharing import SharedOut, shared_out

__all__ = [
    "Answer",
    "SharedOut",
    "asks_first",
    "can_be_meant",
    "greeting",
    "judged_anew",
    "replies_to",
    "respond",
    "respond_to_decision",
    "shared_out",
    "still_open",
    "to_judge",
    "together",
]
