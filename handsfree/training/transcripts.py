"""The two forms of a transcript, and their tokens.

The packaged decoder writes both "Cylinder 4 second, 45.25 thou." and "Cylinder four second,
forty five point two five thou."; training leaves the choice to it.
"""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from pathlib import Path

from handsfree.understand import cardinal_words

_CARDINALS = {" ".join(cardinal_words(number)): str(number) for number in range(1, 100)}
_BY_LENGTH = sorted(_CARDINALS, key=len, reverse=True)
_CARDINAL = re.compile(r"\b(" + "|".join(words.replace(" ", "[ -]") for words in _BY_LENGTH) + r")\b")
_DIGITS = {**{words: digit for words, digit in _CARDINALS.items() if len(digit) == 1}, "zero": "0", "oh": "0"}
_DECIMAL = re.compile(r"(\d+) (?:point|decimal) ((?:(?:\d|zero|oh)\b ?)+)")
_MARK = "\u2581"


def in_words(text: str) -> str:
    """Return a text in sentence case with a full stop, otherwise as spoken.

    >>> in_words("cylinder four top, eighteen thou")
    'Cylinder four top, eighteen thou.'
    """
    text = text.strip()
    return text[:1].upper() + text[1:] + ("" if text[-1:] in ".?!" else ".")


def in_numerals(text: str) -> str:
    """Return the text with numerals.

    >>> in_numerals("cylinder four second, forty five point two five thou")
    'Cylinder 4 second, 45.25 thou.'
    """
    swapped = _CARDINAL.sub(lambda found: _CARDINALS[found[0].replace("-", " ")], text.strip())

    def joined(found: re.Match[str]) -> str:
        digits = "".join(_DIGITS.get(word, word) for word in found[2].split())
        return f"{found[1]}.{digits}{' ' if found[2].endswith(' ') else ''}"

    return in_words(_DECIMAL.sub(joined, swapped))


def encode(text: str, ids: Mapping[bytes, int]) -> list[int]:
    """Return the tokens of a text: merge the adjacent pair whose joined piece has the lowest id, repeatedly.

    ids: pieces to ids, where a one-character piece has an id above the raw bytes.

    Raises:
        KeyError: for a character outside the vocabulary.
    """
    pieces: list[bytes] = [letter.encode() for letter in (_MARK + text.replace(" ", _MARK))]
    while True:
        pairs = [(ids.get(pieces[i] + pieces[i + 1]), i) for i in range(len(pieces) - 1)]
        known = [(token, i) for token, i in pairs if token is not None]
        if not known:
            return [ids[piece] for piece in pieces]
        _, at = min(known)
        pieces[at : at + 2] = [pieces[at] + pieces[at + 1]]


def piece_ids(pieces: Sequence[bytes]) -> dict[bytes, int]:
    """Map pieces to ids, preferring the later ids of one-character pieces to raw bytes."""
    ids: dict[bytes, int] = {}
    for token, piece in enumerate(pieces):
        if token > 258:
            ids.setdefault(piece, token)
    for token, piece in enumerate(pieces):
        ids.setdefault(piece, token)
    return ids


class Tokens:
    """Converts texts to the packaged decoder's tokens; None for a character outside its vocabulary.

    path: the packaged tokenizer.
    """

    def __init__(self, path: Path) -> None:
        from handsfree.hear.tokens import read_pieces

        self._ids = piece_ids(read_pieces(path))
        self._known: dict[str, list[int] | None] = {}

    def __call__(self, text: str) -> list[int] | None:
        """Return the tokens of a text."""
        if text not in self._known:
            try:
                self._known[text] = encode(text, self._ids)
            except KeyError:
                self._known[text] = None
        return self._known[text]
