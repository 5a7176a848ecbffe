"""Written text and the word automaton: the possible next characters, and the words that they spell.

A neural recogniser writes as people write: "Cylinder 6 top, 22.75". This module reads the word
automaton letter by letter, each word in any of its spellings. It constrains a decoder to the grammar
without the decoder knowing its words, and turns a finished text back into the grammar's words. The
letter automaton is computed on the fly, and only the tries of spellings are kept: a state is the set
of possible positions, and the caller keeps the states that it needs again.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from functools import cache
from pathlib import Path

from handsfree.errors import GrammarError
from handsfree.textfile import parse_toml, read_text
from handsfree.understand.automaton import Automaton
from handsfree.understand.grammar import grammar_folder
from handsfree.understand.numbers import cardinal_words
from handsfree.visible import shown

Words = tuple[str, ...]

# Characters that may stand between words. Those of _STOPS only right after a word and before a blank or
# the end, so that the point of "22.75" never ends a sentence. A decimal point must be followed by its
# digits at once: "1. 8" is not 1.8, and "1 . 8" is invalid.
_BLANKS = " -"
_STOPS = ".,!?;:"


@dataclass(frozen=True)
class Spellings:
    """Spellings of words and of groups of words, all in lower case."""

    forms: Mapping[Words, tuple[str, ...]]

    def of(self, words: Words) -> tuple[str, ...]:
        """Return all spellings of a word or a group of words, its own first."""
        return (*([words[0]] if len(words) == 1 else []), *self.forms.get(words, ()))

    @property
    def groups(self) -> tuple[Words, ...]:
        """Groups of two or more words that have a spelling of their own."""
        return tuple(words for words in self.forms if len(words) > 1)


@cache
def load_spellings(path: Path | None = None) -> Spellings:
    """Read a spelling file (TOML) and add the numerals; the packaged one when no path is given.

    Raises:
        GrammarError: when the file can't be read or is invalid.
    """
    path = path or grammar_folder() / "spellings.toml"
    tables = parse_toml(read_text(path, "file of spellings", GrammarError), shown(path), GrammarError)
    forms: dict[Words, list[str]] = {}
    for table, entries in tables.items():
        if table not in ("words", "phrases"):
            raise GrammarError(
                f'spellings "{path}": "{table}" is neither words nor phrases; rename that table'
            )
        if not isinstance(entries, dict):
            raise GrammarError(f'spellings "{path}", [{table}]: wanted a table of words with their spellings')
        for spoken, written in entries.items():
            if not isinstance(written, list) or not all(isinstance(form, str) and form for form in written):
                raise GrammarError(f'spellings "{path}", [{table}] {spoken}: wanted a list of texts')
            forms.setdefault(tuple(spoken.split()), []).extend(form.lower() for form in written)
    for number in range(1, 100):
        forms.setdefault(tuple(cardinal_words(number)), []).extend(_numerals(number))
    for word, ordinal in _ORDINALS.items():
        forms.setdefault((word,), []).append(ordinal)
    forms.setdefault(("zero",), []).append("0")
    return Spellings({words: tuple(dict.fromkeys(written)) for words, written in forms.items()})


# "Thirty four thou" is often written as "thirty-fourth". Not "second", which is a ring.
_ORDINALS = {
    "one": "first",
    "three": "third",
    "four": "fourth",
    "five": "fifth",
    "six": "sixth",
    "seven": "seventh",
    "eight": "eighth",
    "nine": "ninth",
    **{word: f"{word}th" for number in range(10, 20) if (word := cardinal_words(number)[0]) != "twelve"},
    "twelve": "twelfth",
    **{word: f"{word[:-1]}ieth" for number in range(20, 100, 10) if (word := cardinal_words(number)[0])},
}


def _numerals(number: int) -> list[str]:
    """Return a number in figures, plain and as an ordinal, well formed or not. Not 2nd, which is a ring."""
    ending = "th" if number // 10 == 1 else {1: "st", 2: "nd", 3: "rd"}.get(number % 10, "th")
    ordinals = [] if number == 2 else dict.fromkeys((f"{number}{ending}", f"{number}th"))
    return [str(number), *ordinals]


@dataclass(slots=True)
class _Node:
    """A node of a trie of spellings. `ends` are the exits that are spelt out there: number and words."""

    children: dict[str, int] = field(default_factory=dict)
    ends: list[tuple[int, Words]] = field(default_factory=list)


@dataclass(frozen=True, slots=True)
class _Trie:
    """The exits of a word state, letter by letter. `targets` are the states after each exit.

    Word states with the same outgoing words share their nodes: there are many of them.
    """

    nodes: list[_Node]
    targets: tuple[tuple[int, ...], ...]


# A position: a word state, a node of its trie, and the kind of the last character.
_Spot = tuple[int, int, int]
LetterState = tuple[_Spot, ...]  # all possible positions, sorted
_WORD, _STOP, _BLANK, _POINT, _TENS, _ZERO = range(6)
_PASSED_WORDS = (_WORD, _TENS, _ZERO)  # the latter two where the word was a numeral
_TENS_WORDS = frozenset(cardinal_words(number)[0] for number in range(20, 100, 10))
_ZERO_WORDS = frozenset({"zero", "oh"})
_NUMERALS = {**dict.fromkeys(_TENS_WORDS, _TENS), **dict.fromkeys(_ZERO_WORDS, _ZERO)}
_DIGIT_WORDS = _ZERO_WORDS | {cardinal_words(number)[0] for number in range(1, 10)}


class Letters:
    """The word automaton read letter by letter. `start` is the state before any letter."""

    def __init__(self, automaton: Automaton, spellings: Spellings | None = None) -> None:
        self.automaton = automaton
        self._spellings = spellings or load_spellings()
        self._tries: dict[int, _Trie] = {}
        self._nodes: dict[tuple[Words, ...], list[_Node]] = {}
        self._opened: dict[int, tuple[int, ...]] = {}
        self.start: LetterState = tuple(sorted((state, 0, _BLANK) for state in self._open(automaton.start)))

    def step(self, state: LetterState, text: str) -> LetterState:
        """Return the state after `text`, lower-case letters; empty if no spelling continues so."""
        places: Iterable[_Spot] = state
        for letter in text:
            places = {after for place in places for after, _ in self._spelt_after(place, letter)}
        return tuple(sorted(places))

    def letters(self, state: LetterState) -> frozenset[str]:
        """Return the letters that may come next."""
        found: set[str] = set()
        for word_state, node, passed in state:
            children = " " if passed == _STOP else self._trie(word_state).nodes[node].children
            found.update(letter for letter in children if not (passed == _TENS and letter.isdigit()))
            if node == 0:
                found.update(_BLANKS if passed in (*_PASSED_WORDS, _BLANK) else "")
                found.update(letter for letter in _STOPS if self._may_stop(word_state, passed, letter))
        return frozenset(found)

    def is_final(self, state: LetterState) -> bool:
        """Return whether the text may end here."""
        final = self.automaton.final
        return any(
            node == 0 and passed != _POINT and final in self.automaton.closure(word_state)
            for word_state, node, passed in state
        )

    def words(self, text: str) -> tuple[Words, ...]:
        """Turn a written text into the grammar's words.

        Of several possible readings only those with the fewest pieces count: "18" is eighteen, not
        one eight. Empty when the text isn't in the grammar.
        """
        paths: dict[_Spot, tuple[int, set[Words]]] = {
            (state, 0, _BLANK): (0, {()}) for state in self._open(self.automaton.start)
        }
        for letter in text.lower():
            stepped: dict[_Spot, tuple[int, set[Words]]] = {}
            for place, (pieces, words) in paths.items():
                for after, spelt in self._spelt_after(place, letter):
                    count = pieces + (1 if spelt else 0)
                    best = stepped.get(after)
                    if best is None or count < best[0]:
                        stepped[after] = (count, {(*w, *spelt) for w in words})
                    elif count == best[0]:
                        best[1].update((*w, *spelt) for w in words)
            paths = stepped
        ends = [
            (pieces, words)
            for (state, node, passed), (pieces, words) in paths.items()
            if node == 0 and passed != _POINT and self.automaton.final in self.automaton.closure(state)
        ]
        fewest = min((pieces for pieces, _ in ends), default=0)
        return tuple(sorted({w for pieces, words in ends if pieces == fewest for w in words}))

    def _spelt_after(self, place: _Spot, letter: str) -> Iterable[tuple[_Spot, Words]]:
        state, node, passed = place
        if passed == _STOP:
            return [((state, 0, _BLANK), ())] if letter == " " else []
        found: list[tuple[_Spot, Words]] = []
        if node == 0 and passed != _POINT and letter in _BLANKS:
            found.append(((state, 0, _BLANK), ()))
        if node == 0 and letter in _STOPS and self._may_stop(state, passed, letter):
            found.append(((state, 0, _STOP), ()))
        if passed == _TENS and letter.isdigit():
            return found  # 205 is two zero five, never twenty and then five
        trie = self._trie(state)
        child = trie.nodes[node].children.get(letter)
        if child is not None:
            trie_node = trie.nodes[child]
            if trie_node.children:
                found.append(((state, child, _WORD), ()))
            after = _POINT if node == 0 and letter in _STOPS else _WORD
            for way, words in trie_node.ends:
                ended = _NUMERALS.get(words[-1], after) if letter.isdigit() else after
                found.extend(((opened, 0, ended), words) for opened in trie.targets[way])
        return found

    def _may_stop(self, state: int, passed: int, letter: str) -> bool:
        """Return whether a sentence may end here; "20. 4" may be 20.4, or twenty four with a pause."""
        if passed in (_TENS, _ZERO) and letter == ".":
            return not any(word in _DIGIT_WORDS for word, _ in self.automaton.word_arcs[state])
        return passed in _PASSED_WORDS

    def _open(self, state: int) -> tuple[int, ...]:
        """Return the relevant states of a closure: those with outgoing words, and the final one."""
        opened = self._opened.get(state)
        if opened is None:
            opened = self._opened[state] = tuple(
                s
                for s in self.automaton.closure(state)
                if self.automaton.word_arcs[s] or s == self.automaton.final
            )
        return opened

    def _trie(self, state: int) -> _Trie:
        trie = self._tries.get(state)
        if trie is None:
            leaving = list(dict.fromkeys(self._leaving(state)))
            words = tuple(words for words, _ in leaving)
            if words not in self._nodes:
                self._nodes[words] = self._spelt(words)
            trie = _Trie(self._nodes[words], tuple(self._open(target) for _, target in leaving))
            self._tries[state] = trie
        return trie

    def _spelt(self, ways: Sequence[Words]) -> list[_Node]:
        """Return the trie of the spellings of all these words."""
        nodes = [_Node()]
        for way, words in enumerate(ways):
            for form in self._spellings.of(words):
                node = 0
                for letter in form:
                    children = nodes[node].children
                    if letter not in children:
                        nodes.append(_Node())
                        children[letter] = len(nodes) - 1
                    node = children[letter]
                if (way, words) not in nodes[node].ends:
                    nodes[node].ends.append((way, words))
        return nodes

    def _leaving(self, state: int) -> Iterable[tuple[Words, int]]:
        """Return the words, and word groups with a spelling of their own, that lead on from a state."""
        for word, target in self.automaton.word_arcs[state]:
            yield (word,), target
        firsts = {word for word, _ in self.automaton.word_arcs[state]}
        for group in self._spellings.groups:
            if group[0] in firsts:
                for target in self._walk({state}, group):
                    yield group, target

    def _walk(self, states: set[int], words: Sequence[str]) -> set[int]:
        """Return the states right after the last word, before any free arc is followed."""
        for index, word in enumerate(words):
            opened = states if index == 0 else {s for state in states for s in self.automaton.closure(state)}
            states = {
                target for state in opened for w, target in self.automaton.word_arcs[state] if w == word
            }
        return states
