"""The grammar's language as the smallest word graph that holds it: the same phrases, fewer states.

PocketSphinx reads the JSGF itself, but expands it into a graph that it takes twenty seconds a phrase to
search. Given this graph instead, it recognises the same phrases in a fraction of that.
"""

from __future__ import annotations

from dataclasses import dataclass

from handsfree.understand import Automaton


@dataclass(frozen=True)
class WordGraph:
    """A deterministic automaton: arcs (state, next state, word), state 0 first, one final state.

    Where several states end a phrase, an arc without a word (None) leads from each to the final one.
    """

    states: int
    arcs: tuple[tuple[int, int, str | None], ...]
    final: int


def word_graph(automaton: Automaton) -> WordGraph:
    """Determinise (subset construction) and minimise (Moore's refinement) the words of an automaton."""
    table, ends = _determinised(automaton)
    block = _minimised(table, ends)
    arcs = {(block[s], block[t], word) for s, row in enumerate(table) for word, t in row.items()}
    final = max(block) + 1
    arcs |= {(block[s], final, None) for s in ends}
    return WordGraph(final + 1, tuple(sorted(arcs, key=lambda arc: (arc[0], arc[1], arc[2] or ""))), final)


def _determinised(automaton: Automaton) -> tuple[list[dict[str, int]], set[int]]:
    number = {automaton.begin: 0}
    todo, table, ends = [automaton.begin], [{}], set()  # type: ignore[var-annotated]
    while todo:
        states = todo.pop()
        here = number[states]
        if automaton.final in states:
            ends.add(here)
        for word in sorted({word for state in states for word, _ in automaton.word_arcs[state]}):
            reached = automaton.step(states, word)
            if reached not in number:
                number[reached] = len(table)
                table.append({})
                todo.append(reached)
            table[here][word] = number[reached]
    return table, ends


def _minimised(table: list[dict[str, int]], ends: set[int]) -> list[int]:
    """Return the block of each state; state 0 is in block 0."""
    block = [int(state in ends) for state in range(len(table))]
    while True:
        seen: dict[tuple[object, ...], int] = {}
        signatures = [
            (block[s], tuple(sorted((word, block[t]) for word, t in row.items())))
            for s, row in enumerate(table)
        ]
        finer = [seen.setdefault(signature, len(seen)) for signature in signatures]
        if len(seen) == len(set(block)):
            return finer
        block = finer
