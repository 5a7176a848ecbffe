"""Text from elsewhere, such as file names, made fit for a terminal."""

from __future__ import annotations

import unicodedata

_KEPT = frozenset("\n\t")
# Controls, marks that turn the direction of writing, halves of letters, and ends of lines.
_UNFIT = frozenset({"Cc", "Cf", "Cs", "Zl", "Zp"})


def for_terminal(text: str) -> str:
    r"""Return text with every sign written out that a terminal could obey instead of showing.

    >>> for_terminal("ring\x1b[2Jgap")
    'ring\\x1b[2Jgap'
    """
    if text.isprintable():
        return text
    return "".join(
        sign if sign in _KEPT or unicodedata.category(sign) not in _UNFIT else _written(sign) for sign in text
    )


def _written(sign: str) -> str:
    return sign.encode("unicode_escape").decode("ascii")
