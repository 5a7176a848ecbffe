"""Words to meaning: the grammar, the word automaton, spoken numbers, commands."""

from handsfree.understand.automaton import Automaton
from handsfree.understand.command import (
    Bracket,
    ChangeCheck,
    Command,
    Control,
    Feel,
    Move,
    Reading,
    Recall,
    Sweep,
    Turns,
    Vague,
    Word,
    command_from,
    command_json,
)
from handsfree.understand.decide import Decision, Evidence, Near, Outcome, Thresholds, decide
from handsfree.understand.grammar import said_place
from handsfree.understand.keys import (
    BACK,
    ENTER,
    KEYS,
    WIPE,
    WORD_KEYS,
    Entry,
    Pad,
    as_said,
    entries,
    key_names,
    read_keys,
)
from handsfree.understand.listening import Listening, listen_for, pad_for
from handsfree.understand.meaning import Context, Meaning, meanings
from handsfree.understand.near import weighed
from handsfree.understand.numbers import cardinal_words
from handsfree.understand.replies import Replies, phrases_of, said_number, settles, ways_to_say
from handsfree.understand.spelling import Letters, LetterState, Spellings, load_spellings

__all__ = [
    "BACK",
    "ENTER",
    "KEYS",
    "WIPE",
    "WORD_KEYS",
    "Automaton",
    "Bracket",
    "ChangeCheck",
    "Command",
    "Context",
    "Control",
    "Decision",
    "Entry",
    "Evidence",
    "Feel",
    "LetterState",
    "Letters",
    "Listening",
    "Meaning",
    "Move",
    "Near",
    "Outcome",
    "Pad",
    "Reading",
    "Recall",
    "Replies",
    "Spellings",
    "Sweep",
    "Thresholds",
    "Turns",
    "Vague",
    "Word",
    "as_said",
    "cardinal_words",
    "command_from",
    "command_json",
    "decide",
    "entries",
    "key_names",
    "listen_for",
    "load_spellings",
    "meanings",
    "pad_for",
    "phrases_of",
    "read_keys",
    "said_number",
    "said_place",
    "settles",
    "ways_to_say",
    "weighed",
]
