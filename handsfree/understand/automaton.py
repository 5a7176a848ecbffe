"""The word automaton: the word sequences of the narrowed grammar, and their tags.

States are small integers. An arc consumes a word, or nothing and then may carry a tag. The automaton
both constrains every recogniser and parses its words, so that everything recognised is understood.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from functools import cached_property

Tags = tuple[str, ...]


@dataclass(frozen=True)
class Automaton:
    """A non-deterministic word automaton with tags.

    word_arcs: for each state, pairs of a word and the state that it leads to.
    free_arcs: for each state, pairs of a tag (or None) and the state that it leads to.
    start, final: one state each.
    phrases: word groups that are one token in the grammar ("and a half").
    """

    word_arcs: tuple[tuple[tuple[str, int], ...], ...] = field(repr=False)
    free_arcs: tuple[tuple[tuple[str | None, int], ...], ...] = field(repr=False)
    start: int
    final: int
    phrases: frozenset[tuple[str, ...]] = field(default=frozenset(), repr=False)

    @cached_property
    def words(self) -> tuple[str, ...]:
        """The automaton's vocabulary, sorted."""
        return tuple(sorted({word for arcs in self.word_arcs for word, _ in arcs}))

    @cached_property
    def _closures(self) -> tuple[frozenset[int], ...]:
        closures = []
        for state in range(len(self.free_arcs)):
            seen, todo = {state}, [state]
            while todo:
                for _, target in self.free_arcs[todo.pop()]:
                    if target not in seen:
                        seen.add(target)
                        todo.append(target)
            closures.append(frozenset(seen))
        return tuple(closures)

    def closure(self, state: int) -> frozenset[int]:
        """Return the states that can be reached from `state` without a word, itself included."""
        return self._closures[state]

    @cached_property
    def begin(self) -> frozenset[int]:
        """The states before the first word."""
        return self.closure(self.start)

    def step(self, states: Iterable[int], word: str) -> frozenset[int]:
        """Return the states after `word`; empty when the grammar doesn't allow it there."""
        found: set[int] = set()
        for state in states:
            for arc_word, target in self.word_arcs[state]:
                if arc_word == word:
                    found |= self.closure(target)
        return frozenset(found)

    def walk(self, words: Sequence[str]) -> frozenset[int]:
        """Return the states after all of `words`."""
        states = self.begin
        for word in words:
            states = self.step(states, word)
        return states

    def accepts(self, words: Sequence[str]) -> bool:
        """Return whether `words` are a whole phrase of the grammar."""
        return self.final in self.walk(words)

    def next_words(self, words: Sequence[str]) -> frozenset[str]:
        """Return the words that may follow `words`."""
        return frozenset(word for state in self.walk(words) for word, _ in self.word_arcs[state])

    def parses(self, words: Sequence[str]) -> frozenset[Tags]:
        """Return all distinct tag sequences of `words` from start to final.

        Empty when the words aren't in the grammar. A grammar of this kind is small and almost
        unambiguous, so the set nearly always has one member.
        """
        paths: dict[int, set[Tags]] = self._spread({self.start: {()}})
        for word in words:
            stepped: dict[int, set[Tags]] = {}
            for state, tags in paths.items():
                for arc_word, target in self.word_arcs[state]:
                    if arc_word == word:
                        stepped.setdefault(target, set()).update(tags)
            paths = self._spread(stepped)
        return frozenset(paths.get(self.final, ()))

    def _spread(self, paths: dict[int, set[Tags]]) -> dict[int, set[Tags]]:
        """Follow the free arcs and collect their tags until no new states are found."""
        todo = list(paths)
        while todo:
            state = todo.pop()
            for tag, target in self.free_arcs[state]:
                moved = paths[state] if tag is None else {(*tags, tag) for tags in paths[state]}
                known = paths.setdefault(target, set())
                if not moved <= known:
                    known |= moved
                    todo.append(target)
        return paths


class Builder:
    """Builds an automaton; states are numbered in order of creation."""

    def __init__(self) -> None:
        self._word_arcs: list[list[tuple[str, int]]] = []
        self._free_arcs: list[list[tuple[str | None, int]]] = []
        self._phrases: set[tuple[str, ...]] = set()

    def state(self) -> int:
        """Make a new state."""
        self._word_arcs.append([])
        self._free_arcs.append([])
        return len(self._word_arcs) - 1

    def free(self, source: int, target: int, tag: str | None = None) -> None:
        """Join two states without a word, with an optional tag."""
        self._free_arcs[source].append((tag, target))

    def phrase(self, source: int, target: int, words: Sequence[str]) -> None:
        """Join two states by a word group."""
        if len(words) > 1:
            self._phrases.add(tuple(words))
        for word in words[:-1]:
            between = self.state()
            self._word_arcs[source].append((word, between))
            source = between
        self._word_arcs[source].append((words[-1], target))

    def build(self, start: int, final: int) -> Automaton:
        """Return the finished automaton."""
        return Automaton(
            tuple(tuple(arcs) for arcs in self._word_arcs),
            tuple(tuple(arcs) for arcs in self._free_arcs),
            start,
            final,
            frozenset(self._phrases),
        )
