"""The grammar in another reader: PocketSphinx takes the narrowed JSGF, and its word graph is the same.

PocketSphinx 5 has its own JSGF parser and its own search; the package is for development only.
"""

from __future__ import annotations

from random import Random

import pytest

from handsfree.planfile import load_plan
from handsfree.understand import Automaton
from tests.measure.accuracy import ROOT
from tests.measure.listeners import PRONUNCIATIONS, listening_of
from tests.measure.word_graph import WordGraph, word_graph


@pytest.fixture(scope="module")
def automaton() -> Automaton:
    return listening_of(load_plan(ROOT / "demo" / "plan.toml")).automaton


@pytest.fixture(scope="module")
def graph(automaton: Automaton) -> WordGraph:
    return word_graph(automaton)


def holds(graph: WordGraph, words: list[str]) -> bool:
    """Whether the graph ends on its final state after these words."""
    state = 0
    for word in words:
        following = [after for before, after, said in graph.arcs if before == state and said == word]
        if not following:
            return False
        (state,) = following  # one way at most, since it is deterministic
    return any(before == state and said is None for before, _, said in graph.arcs)


def drawn(automaton: Automaton, rng: Random, longest: int = 14) -> list[str]:
    """Draw words at random, as far as the grammar goes on."""
    words: list[str] = []
    while len(words) < longest:
        following = sorted(automaton.next_words(words))
        if not following or (automaton.accepts(words) and rng.random() < 0.3):
            break
        words.append(rng.choice(following))
    return words


def test_the_narrowed_grammar_loads_in_pocketsphinx_own_reader() -> None:
    from pocketsphinx import Decoder

    listening = listening_of(load_plan(ROOT / "demo" / "plan.toml"))
    decoder = Decoder(lm=None, loglevel="FATAL")
    for word, phones in PRONUNCIATIONS.items():
        if decoder.lookup_word(word) is None:
            decoder.add_word(word, phones, True)
    assert not [word for word in listening.automaton.words if decoder.lookup_word(word) is None]
    decoder.add_jsgf_string("bench", listening.grammar.jsgf())
    decoder.activate_search("bench")
    assert decoder.current_search() == "bench"


def test_pocketsphinx_reader_refuses_what_is_not_jsgf() -> None:
    from pocketsphinx import Decoder

    decoder = Decoder(lm=None, loglevel="FATAL")
    with pytest.raises((RuntimeError, ValueError)):
        decoder.add_jsgf_string("bench", "#JSGF V1.0;\ngrammar bench;\npublic <a> = one | ;;\n")


def test_the_word_graph_holds_what_the_grammar_holds(automaton: Automaton, graph: WordGraph) -> None:
    rng = Random(7)
    whole = 0
    for _ in range(300):
        words = drawn(automaton, rng)
        assert holds(graph, words) == automaton.accepts(words), words
        whole += automaton.accepts(words)
        broken = words[:-1]
        assert holds(graph, broken) == automaton.accepts(broken), broken
        swapped = rng.sample(words, len(words))
        assert holds(graph, swapped) == automaton.accepts(swapped), swapped
    assert whole > 100


def test_the_word_graph_is_much_smaller(automaton: Automaton, graph: WordGraph) -> None:
    assert graph.states < len(automaton.word_arcs) / 5
