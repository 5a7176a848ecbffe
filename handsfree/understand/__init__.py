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
    Turns,
    Word,
    kind_of,
)
from handsfree.understand.grammar import Grammar, Narrowing, grammar_folder, load_grammar
from handsfree.understand.meaning import Context, Meaning, meanings
from handsfree.understand.spelling import Letters, Spellings, load_spellings

__all__ = [
    "Automaton",
    "Bracket",
    "ChangeCheck",
    "Command",
    "Context",
    "Control",
    "Feel",
    "Grammar",
    "Letters",
    "Meaning",
    "Move",
    "Narrowing",
    "Reading",
    "Spellings",
    "Turns",
    "Word",
    "grammar_folder",
    "kind_of",
    "load_grammar",
    "load_spellings",
    "meanings",
]
