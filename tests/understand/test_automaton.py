"""The word automaton: walking, tags, closures, and the builder."""

from __future__ import annotations

import itertools

import pytest
from hypothesis import given
from hypothesis import strategies as st

from handsfree.understand import Automaton
from handsfree.understand.automaton import Builder

pytestmark = pytest.mark.quick


@pytest.fixture
def small() -> Automaton:
    """Hold a [b {x}] (c {y} | c {z}), and "a c d" as a phrase."""
    builder = Builder()
    start, after_a, tag_x, after_b, tag_y, tag_z, final = (builder.state() for _ in range(7))
    builder.phrase(start, after_a, ["a"])
    builder.phrase(after_a, tag_x, ["b"])
    builder.free(tag_x, after_b, "x")
    builder.free(after_a, after_b)
    builder.phrase(after_b, tag_y, ["c"])
    builder.phrase(after_b, tag_z, ["c"])
    builder.free(tag_y, final, "y")
    builder.free(tag_z, final, "z")
    builder.phrase(start, final, ["a", "c", "d"])
    return builder.build(start, final)


def test_whole_phrases_only_are_accepted(small):
    assert small.accepts(["a", "c"])
    assert small.accepts(["a", "b", "c"])
    assert small.accepts(["a", "c", "d"])
    for words in ([], ["a"], ["a", "b"], ["c"], ["a", "c", "c"], ["a", "b", "c", "d"], ["A", "c"]):
        assert not small.accepts(words), words


def test_every_way_to_tag_words_is_given_once(small):
    assert small.parses(["a", "c"]) == {("y",), ("z",)}
    assert small.parses(["a", "b", "c"]) == {("x", "y"), ("x", "z")}
    assert small.parses(["a", "c", "d"]) == {()}
    assert small.parses(["a", "b"]) == frozenset()
    assert small.parses([]) == frozenset()


def test_words_that_may_follow(small):
    assert small.next_words([]) == {"a"}
    assert small.next_words(["a"]) == {"b", "c"}
    assert small.next_words(["a", "c"]) == {"d"}
    assert small.next_words(["a", "b", "c"]) == frozenset()
    assert small.next_words(["x"]) == frozenset()


def test_all_words_are_listed_in_order(small):
    assert small.words == ("a", "b", "c", "d")


def test_words_that_stand_together_are_remembered(small):
    assert small.phrases == {("a", "c", "d")}


def test_a_step_follows_what_needs_no_word(small):
    assert small.final in small.step(small.walk(["a"]), "c")
    assert small.step(small.begin, "b") == frozenset()


def test_free_arcs_in_a_circle_end():
    builder = Builder()
    start, inside, final = (builder.state() for _ in range(3))
    builder.free(start, inside)
    builder.free(inside, start)
    builder.phrase(inside, final, ["a"])
    builder.free(final, start)
    machine = builder.build(start, final)
    assert machine.closure(start) == {start, inside}
    assert machine.parses(["a", "a", "a"]) == {()}


def test_an_empty_phrase_is_accepted_where_nothing_needs_saying():
    builder = Builder()
    start, final = builder.state(), builder.state()
    builder.free(start, final, "silence")
    machine = builder.build(start, final)
    assert machine.accepts([])
    assert machine.parses([]) == {("silence",)}


@given(
    st.lists(
        st.tuples(st.integers(0, 4), st.sampled_from(["a", "b", None, "#t", "#u"]), st.integers(0, 4)),
        max_size=9,
    ),
    st.lists(st.sampled_from("ab"), max_size=4),
)
def test_walking_and_parsing_agree_with_trying_every_path(arcs, words):
    """The oracle walks every path by brute force; circles of tags are cut, for they'd have no end."""
    builder = Builder()
    for _ in range(5):
        builder.state()
    kept = []
    for source, label, target in arcs:
        if label in ("a", "b"):
            builder.phrase(source, target, [label])
        elif source < target:  # forwards only, so that no circle of tags arises
            builder.free(source, target, label[1:] if label else None)
        else:
            continue
        kept.append((source, label, target))
    machine = builder.build(0, 4)

    def paths(state, rest):
        if state == 4 and not rest:
            yield ()
        for source, label, target in kept:
            if source != state:
                continue
            if label in ("a", "b"):
                if rest and rest[0] == label:
                    yield from paths(target, rest[1:])
            else:
                tag = (label[1:],) if label else ()
                yield from (tag + tail for tail in paths(target, rest))

    # a word arc may lead back, but it uses a word up, so the search ends
    expected = frozenset(itertools.islice(paths(0, words), 10_000))
    assert machine.parses(words) == expected
    assert machine.accepts(words) == bool(expected)
