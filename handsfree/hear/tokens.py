"""The neural recogniser's vocabulary, and the tokens that the grammar allows next."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, field
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from handsfree.errors import ModelError
from handsfree.understand import Letters, LetterState

START, END = 1, 2
_PIECES = 32_768
_FIRST_PIECE = 259  # 0 to 258 are marks and raw bytes
_MEANINGLESS = str.maketrans("-", " ", ",")
_WORD_MARK = "\u2581"  # stands for the blank before a word


def read_pieces(path: Path, count: int = _PIECES) -> list[bytes]:
    """Return every token's bytes by id, from the packaged tokenizer.

    Each entry is a length (one byte; from 128 up with a second byte: second * 128 + first - 128) and that
    many bytes.

    Raises:
        ModelError: the file can't be read, is cut short, or doesn't hold `count` entries.
    """
    remedy = "install moonshine-voice 0.0.49 again"
    try:
        data = path.read_bytes()
    except OSError as error:
        raise ModelError(f'tokenizer "{path}" can\'t be read: {error.strerror or error}; {remedy}') from error
    pieces: list[bytes] = []
    at = 0
    while at < len(data):
        size = data[at]
        at += 1
        if size >= 128:
            size += (data[at] if at < len(data) else 0) * 128 - 128
            at += 1
        if at + size > len(data):
            raise ModelError(f'tokenizer "{path}" is cut short; {remedy}')
        pieces.append(data[at : at + size])
        at += size
    if len(pieces) != count:  # cut between two entries, or another model's
        raise ModelError(f'tokenizer "{path}" holds {len(pieces)} entries, not {count}; {remedy}')
    return pieces


@dataclass(slots=True)
class _Node:
    children: dict[str, _Node] = field(default_factory=dict)
    tokens: list[int] = field(default_factory=list)


class Vocabulary:
    """Token ids and their texts, with a trie of the texts in lower case."""

    def __init__(self, pieces: list[bytes]) -> None:
        self._pieces = pieces
        self.root = _Node()
        for token, piece in enumerate(pieces[_FIRST_PIECE:], start=_FIRST_PIECE):
            try:
                text = piece.decode().replace(_WORD_MARK, " ").lower()
            except UnicodeDecodeError:
                continue
            if not text:
                continue
            node = self.root
            for letter in text:
                node = node.children.setdefault(letter, _Node())
            node.tokens.append(token)

    def piece(self, token: int) -> str:
        """Return one token's text in lower case, with its leading blank."""
        return self._pieces[token].decode(errors="replace").replace(_WORD_MARK, " ").lower()

    def text(self, tokens: tuple[int, ...]) -> str:
        """Return the text of tokens, without the leading blank."""
        data = b"".join(self._pieces[token] for token in tokens)
        return data.decode(errors="replace").replace(_WORD_MARK, " ").strip()


@dataclass(frozen=True, slots=True)
class Allowed:
    """The allowed next tokens, and whether the text may end."""

    tokens: NDArray[np.uint16]
    final: bool


class AllowedTokens:
    """The grammar's letter automaton composed with the vocabulary, lazily by state.

    A state allows some three hundred tokens, but a search continues with few of them. The state after a
    token is computed only then, so that a long session stores only visited states.
    """

    def __init__(self, letters: Letters, vocabulary: Vocabulary) -> None:
        self._letters = letters
        self._vocabulary = vocabulary
        self._root = vocabulary.root
        self._known: dict[LetterState, Allowed] = {}
        self._lists: dict[bytes, NDArray[np.uint16]] = {}
        self.start = letters.start

    def after(self, state: LetterState) -> Allowed:
        """Return the allowed next tokens in a state; cached."""
        allowed = self._known.get(state)
        if allowed is None:
            if len(state) > 1:  # many states share the same places
                tokens = np.unique(np.concatenate([self.after((place,)).tokens for place in state]))
            else:
                tokens = np.array(sorted(self._spread(self._root, state)), dtype=np.uint16)
            data = tokens.tobytes()
            tokens = self._lists.setdefault(data, np.frombuffer(data, np.uint16))  # many allow the same
            allowed = self._known[state] = Allowed(tokens, self._letters.is_final(state))
        return allowed

    def step(self, state: LetterState, token: int) -> LetterState:
        """Return the state after one of the allowed tokens."""
        return self._letters.step(state, self._vocabulary.piece(token))

    def written(self, token: int) -> str:
        """Return a token's text in lower case, normalised so that equal texts have equal meaning.

        Commas are removed, and hyphens become blanks.
        """
        return self._vocabulary.piece(token).translate(_MEANINGLESS)

    def _spread(self, node: _Node, state: LetterState) -> Iterator[int]:
        for letter in self._letters.letters(state):
            child = node.children.get(letter)
            if child is None:
                continue
            yield from child.tokens
            if child.children:
                yield from self._spread(child, self._letters.step(state, letter))
