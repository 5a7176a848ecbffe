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
    kind_of,
)
from handsfree.understand.command_form import command_form, command_from
from handsfree.understand.decide import Decision, Evidence, Near, Outcome, Thresholds, decide
from handsfree.understand.grammar import Grammar, Narrowing, grammar_folder, load_grammar, said_place
from handsfree.understand.keyed import as_said
from handsfree.understand.keys import (
    BACK,
    ENTER,
    KEYS,
    WIPE,
    WORD_KEYS,
    Pad,
    entries,
    key_names,
    pressed,
    read_keys,
)
from handsfree.understand.listening import Listening, listen_for, pad_for
from handsfree.understand.meaning import Context, Meaning, meanings
from handsfree.understand.near import weighed
from handsfree.understand.replies import (
    Replies,
    ReplyThresholds,
    phrases_of,
    said_number,
    settles,
    ways_to_say,
)
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
    "Evidence",
    "Feel",
    "Grammar",
    "LetterState",
    "Letters",
    "Listening",
    "Meaning",
    "Move",
    "Narrowing",
    "Near",
    "Outcome",
    "Pad",
    "Reading",
    "Recall",
    "Replies",
    "ReplyThresholds",
    "Spellings",
    "Sweep",
    "Thresholds",
    "Turns",
    "Vague",
    "Word",
    "as_said",
    "command_form",
    "command_from",
    "decide",
    "entries",
    "grammar_folder",
    "key_names",
    "kind_of",
    "listen_for",
    "load_grammar",
    "load_spellings",
    "meanings",
    "pad_for",
    "phrases_of",
    "pressed",
    "read_keys",
    "said_number",
    "said_place",
    "settles",
    "ways_to_say",
    "weighed",
]
