"""A phrase in letters three rows high, to be read from a step away on any terminal."""

from __future__ import annotations

from handsfree.show.letters import HEIGHT, large, width

_BLOCKS = {(False, False): " ", (True, False): "▀", (False, True): "▄", (True, True): "█"}
_DOT = 2  # columns that `large` gives a dot


def banner(text: str, columns: int) -> list[str]:
    """Draw a phrase, as many words a line as fit; a word that doesn't fit by itself is left in plain letters.

    A dot is one column and half a row, so that it comes out about square.

    >>> for row in banner("no go", 40):
    ...     print(row)
    █▄ █ ▄▀▀▄    █▀▀▀ ▄▀▀▄
    █ ▀█ █  █    █ ▀█ █  █
    ▀  ▀  ▀▀     ▀▀▀▀  ▀▀
    """
    rows: list[str] = []
    line: list[str] = []
    for word in text.split():
        if line and _columns(" ".join([*line, word])) > columns:
            rows += [*_drawn(" ".join(line), columns), ""]
            line = []
        line.append(word)
    return [*rows, *_drawn(" ".join(line), columns)] if line else rows


def _columns(text: str) -> int:
    return width(text) // _DOT


def _drawn(text: str, columns: int) -> list[str]:
    if _columns(text) > columns:
        return [text]
    dots = [[sign != " " for sign in row[::_DOT]] for row in large(text)]
    wide = max(map(len, dots))
    full = [row + [False] * (wide - len(row)) for row in dots] + [[False] * wide] * (HEIGHT % 2)
    pairs = zip(full[::2], full[1::2], strict=True)
    return [
        "".join(_BLOCKS[pair] for pair in zip(upper, lower, strict=True)).rstrip() for upper, lower in pairs
    ]
