"""The tokenizer file, the vocabulary, and which tokens the grammar allows."""

from __future__ import annotations

import random
import tracemalloc
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from handsfree.errors import ModelError
from handsfree.hear import model_folder
from handsfree.hear.tokens import AllowedTokens, Vocabulary, read_pieces
from handsfree.planfile import load_plan
from handsfree.understand import Letters, listen_for

TOKENIZER = model_folder() / "tokenizer.bin"


def entry(piece: bytes) -> bytes:
    """One entry of the file, as its form says: a length of one byte or two, and the bytes."""
    size = len(piece)
    head = bytes([size]) if size < 128 else bytes([size % 128 + 128, size // 128])
    return head + piece


def written(folder: Path, data: bytes) -> Path:
    path = folder / "tokenizer.bin"
    path.write_bytes(data)
    return path


@given(st.lists(st.binary(max_size=300), max_size=8))
def test_what_was_written_is_read(tmp_path_factory, pieces):
    path = written(tmp_path_factory.mktemp("pieces"), b"".join(map(entry, pieces)))
    assert read_pieces(path, len(pieces)) == pieces


@pytest.mark.quick
def test_a_file_torn_anywhere_is_refused(tmp_path):
    pieces = [b"<unk>", b"", b"a" * 130, b"b", b"c" * 16384]
    data = b"".join(map(entry, pieces))
    for cut in range(len(data)):
        with pytest.raises(ModelError, match=r'tokenizer ".*" (is cut short|holds \d entries, not 5)'):
            read_pieces(written(tmp_path, data[:cut]), len(pieces))
        if cut > 160:
            break
    with pytest.raises(ModelError, match=r"is cut short; install moonshine-voice 0\.0\.49 again"):
        read_pieces(written(tmp_path, data[:-1]), len(pieces))


@pytest.mark.quick
@pytest.mark.parametrize("data", [b"", b"\x05ab", b"\x80", b"\xff\xff", b"\x00" * 10])
def test_a_file_that_is_no_tokenizer_is_refused(tmp_path, data):
    with pytest.raises(ModelError, match="install moonshine-voice"):
        read_pieces(written(tmp_path, data))


@pytest.mark.quick
def test_a_missing_file_is_refused_in_a_sentence(tmp_path):
    with pytest.raises(ModelError, match=r'tokenizer ".*gone" can\'t be read: No such file'):
        read_pieces(tmp_path / "gone")


def test_the_packaged_file_is_whole_and_torn_in_half_is_refused(tmp_path):
    pieces = read_pieces(TOKENIZER)
    assert pieces[:3] == [b"<unk>", b"<s>", b"</s>"]
    assert pieces[3:259] == [bytes([byte]) for byte in range(256)]
    data = TOKENIZER.read_bytes()
    for cut in (len(data) // 2, len(data) - 1, len(data) - len(entry(pieces[-1]))):
        with pytest.raises(ModelError):
            read_pieces(written(tmp_path, data[:cut]))


@pytest.fixture(scope="module")
def vocabulary() -> Vocabulary:
    return Vocabulary(read_pieces(TOKENIZER))


@pytest.fixture(scope="module")
def letters() -> Letters:
    plan = load_plan(Path(__file__).parents[2] / "demo" / "plan.toml")
    return Letters(listen_for(plan, plan.checks[0]).automaton)


@pytest.fixture(scope="module")
def allowed(letters, vocabulary) -> AllowedTokens:
    return AllowedTokens(letters, vocabulary)


def test_a_token_with_a_word_mark_is_written_with_a_blank(vocabulary):
    pieces = read_pieces(TOKENIZER)
    token = pieces.index("\u2581the".encode())
    assert vocabulary.piece(token) == " the"
    assert vocabulary.text((token, token)) == "the the"


def test_marks_and_raw_bytes_are_in_no_trie_so_that_nothing_is_spelt_two_ways(vocabulary):
    def tokens(node):
        yield from node.tokens
        for child in node.children.values():
            yield from tokens(child)

    held = list(tokens(vocabulary.root))
    assert min(held) >= 259
    assert len(held) == len(set(held)) > 30_000


def test_whatever_tokens_are_allowed_write_a_beginning_of_the_grammar(allowed, letters, vocabulary):
    rng = random.Random(3)
    ended = 0
    for _ in range(300):
        state, tokens = allowed.start, ()
        for _ in range(rng.randrange(1, 14)):
            after = allowed.after(state)
            if not len(after.tokens):
                break
            token = int(rng.choice(after.tokens))
            tokens, state = (*tokens, token), allowed.step(state, token)
        text = "".join(vocabulary.piece(token) for token in tokens)
        assert state == letters.step(letters.start, text) != (), text
        if allowed.after(state).final:
            ended += 1
            assert letters.words(vocabulary.text(tokens)), text
    assert ended > 20


def test_every_token_that_spells_on_is_allowed(allowed, letters, vocabulary):
    """The other direction, by trying the whole vocabulary letter by letter."""
    for before in ("", " cylinder 3 top", " twenty", " 18."):
        state = letters.step(letters.start, before)
        expected = []
        for token in range(259, 32_768):
            walked = state
            for letter in vocabulary.piece(token):
                walked = letters.step(walked, letter)
            if walked and vocabulary.piece(token):
                expected.append(token)
        assert allowed.after(state).tokens.tolist() == expected, before


def test_a_state_is_worked_out_once(allowed):
    assert allowed.after(allowed.start) is allowed.after(allowed.start)


def test_a_long_walk_keeps_little_more_than_the_states_that_it_visits(letters, vocabulary):
    """Of the states between letters, and of those after tokens never taken, nothing is kept."""

    def walked() -> tuple[AllowedTokens, int]:
        allowed = AllowedTokens(Letters(letters.automaton), vocabulary)
        rng, states = random.Random(5), set()
        for _ in range(60):
            state = allowed.start
            for _ in range(12):
                states.add(state)
                state = allowed.step(state, int(rng.choice(allowed.after(state).tokens)))
        return allowed, len(states)

    walked()  # what is kept for good at the first use of anything is not counted
    tracemalloc.start()
    try:
        kept = walked()
        assert tracemalloc.get_traced_memory()[0] < 9_000 * kept[1]
    finally:
        tracemalloc.stop()
