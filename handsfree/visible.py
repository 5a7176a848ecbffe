"""Makes external text safe to display: nothing in it can move the cursor or stop the program."""

from __future__ import annotations

import os
import unicodedata

MOST_SHOWN = 1000
"""Most characters of a displayed sentence; a longer one is cut in the middle."""


_KEPT = frozenset("\n\t")
# Control characters, direction marks, surrogates, and line ends.
_UNFIT = frozenset({"Cc", "Cf", "Cs", "Zl", "Zp"})


def visible(text: str) -> str:
    r"""Return a text with unprintable characters (line breaks, direction marks) escaped.

    >>> visible("a\nb")
    'a\\nb'
    """
    if text.isprintable():
        return text
    return "".join(c if c.isprintable() else c.encode("unicode_escape").decode() for c in text)


def shown(path: str | os.PathLike[str]) -> str:
    r"""Return a file's name for display, with bytes that aren't UTF-8 and control characters escaped.

    >>> shown("caf\udce9.wav"), shown("bad\x1b[2J.wav")
    ('caf\\xe9.wav', 'bad\\x1b[2J.wav')
    """
    return visible(os.fsencode(path).decode("utf-8", "backslashreplace"))


def sentence(text: object) -> str:
    """Return a message as one line of limited length.

    >>> len(sentence("x" * 5000))
    1000
    """
    line = visible(str(text))
    if len(line) <= MOST_SHOWN:
        return line
    kept = (MOST_SHOWN - len(" ... ")) // 2
    return f"{line[: MOST_SHOWN - len(' ... ') - kept]} ... {line[-kept:]}"


def one_line(text: str, most: int) -> str:
    r"""Return the first signs of a text as one line, in which what can't be printed is written out.

    >>> one_line("ring\x1b[2J gap\nof", 12), one_line("Top ring, upper side", 8)
    ('ring\\x1b[2J gap…', 'Top ring…')
    """
    kept = "".join(" " if sign.isspace() else sign for sign in text[:most])
    return visible(kept) + ("…" if len(text) > most else "")


def for_terminal(text: str) -> str:
    r"""Return text with every character escaped that a terminal could obey instead of showing.

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
