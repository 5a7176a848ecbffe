"""Finite automata as sets of arcs, to ask whether two readers make the same language of a grammar.

Nothing here comes from the package under test: an automaton is a start, a set of final states and a
list of (state, word or None, state).
"""

from __future__ import annotations

import random
from collections import deque
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from functools import cached_property
from pathlib import Path

from handsfree.understand import Automaton

Arc = tuple[int, str | None, int]


@dataclass(frozen=True, eq=False)
class Machine:
    """A nondeterministic automaton; an arc with None is walked without a word."""

    start: int
    finals: frozenset[int]
    arcs: tuple[Arc, ...]

    @cached_property
    def _free(self) -> dict[int, list[int]]:
        found: dict[int, list[int]] = {}
        for source, word, target in self.arcs:
            if word is None:
                found.setdefault(source, []).append(target)
        return found

    @cached_property
    def _words(self) -> dict[int, dict[str, set[int]]]:
        found: dict[int, dict[str, set[int]]] = {}
        for source, word, target in self.arcs:
            if word is not None:
                found.setdefault(source, {}).setdefault(word, set()).add(target)
        return found

    @cached_property
    def _spreads(self) -> dict[int, frozenset[int]]:
        return {}

    def spread(self, states: Iterable[int]) -> frozenset[int]:
        """Return all states that can be reached without a word."""
        return frozenset().union(*map(self._spread, states))

    def _spread(self, state: int) -> frozenset[int]:
        if state not in self._spreads:
            seen, todo = {state}, [state]
            while todo:
                for target in self._free.get(todo.pop(), ()):
                    if target not in seen:
                        seen.add(target)
                        todo.append(target)
            # only those that words leave from, or that end, can matter
            self._spreads[state] = frozenset(s for s in seen if s in self._words or s in self.finals)
        return self._spreads[state]

    @cached_property
    def begin(self) -> frozenset[int]:
        """The state before the first word."""
        return self.spread([self.start])

    def step(self, states: frozenset[int], word: str) -> frozenset[int]:
        """Return where it is after one more word."""
        return self.spread({t for state in states for t in self._words.get(state, {}).get(word, ())})

    def next_words(self, states: frozenset[int]) -> set[str]:
        """Return words that may come next."""
        return {word for state in states for word in self._words.get(state, {})}

    def ends(self, states: frozenset[int]) -> bool:
        """Return whether the words may end here."""
        return bool(states & self.finals)

    def accepts(self, words: Iterable[str]) -> bool:
        """Return whether the words are a whole sentence."""
        states = self.begin
        for word in words:
            states = self.step(states, word)
        return self.ends(states)


def machine_of(automaton: Automaton, *, tags: bool = False) -> Machine:
    """Take an automaton of ours; with `tags` a tag is a word in braces."""
    arcs: list[Arc] = []
    for source, held in enumerate(automaton.word_arcs):
        arcs += [(source, word, target) for word, target in held]
    for source, free in enumerate(automaton.free_arcs):
        arcs += [(source, f"{{{tag}}}" if tag and tags else None, target) for tag, target in free]
    return Machine(automaton.start, frozenset({automaton.final}), tuple(arcs))


def read_fsg(path: Path) -> Machine:
    """Read the text form of a finite state grammar, as PocketSphinx writes it."""
    start, final, arcs = 0, 0, []
    for line in path.read_text("utf-8").splitlines():
        match line.split():
            case ["START_STATE", state]:
                start = int(state)
            case ["FINAL_STATE", state]:
                final = int(state)
            case ["TRANSITION", source, target, _, *word]:
                arcs.append((int(source), word[0] if word else None, int(target)))
    return Machine(start, frozenset({final}), tuple(arcs))


def difference(one: Machine, other: Machine) -> tuple[tuple[str, ...], str] | None:
    """Return the shortest sentence that only one of two holds, with which it is; None where they agree.

    Both are made deterministic as they are walked side by side, so the answer is exact, not sampled.
    """
    begin = (one.begin, other.begin)
    seen = {begin}
    todo: deque[tuple[tuple[frozenset[int], frozenset[int]], tuple[str, ...]]] = deque([(begin, ())])
    while todo:
        (left, right), words = todo.popleft()
        if one.ends(left) != other.ends(right):
            return words, "first" if one.ends(left) else "second"
        for word in sorted(one.next_words(left) | other.next_words(right)):
            pair = (one.step(left, word), other.step(right, word))
            if pair not in seen and (pair[0] or pair[1]):
                seen.add(pair)
                todo.append((pair, (*words, word)))
    return None


def sentences(
    machine: Machine, rng: random.Random, count: int, longest: int = 24
) -> Iterator[tuple[str, ...]]:
    """Random sentences, found by walking; a walk that grows too long is begun again."""
    while count:
        states, words = machine.begin, []
        while len(words) < longest:
            following = sorted(machine.next_words(states))
            if machine.ends(states) and (not following or rng.random() < 0.3):
                break
            words.append(rng.choice(following))
            states = machine.step(states, words[-1])
        if machine.ends(states):
            count -= 1
            yield tuple(words)
