"""Text from outside, made fit to be shown: nothing in it can move the cursor or stop the program."""

from __future__ import annotations

import os
import unicodedata

MOST_SHOWN = 1000
"""Characters of a sentence that a person is shown; a longer one is cut in the middle."""


_KEPT = frozenset("\n\t")
# Controls, marks that turn the direction of writing, halves of letters, and ends of lines.
_UNFIT = frozenset({"Cc", "Cf", "Cs", "Zl", "Zp"})


def visible(text: str) -> str:
    r"""Return a text in which what can't be printed (line breaks, reversed writing) is written out.

    >>> visible("a\nb")
    'a\\nb'
    """
    if text.isprintable():
        return text
    return "".join(c if c.isprintable() else c.encode("unicode_escape").decode() for c in text)


def shown(path: str | os.PathLike[str]) -> str:
    r"""Return the name of a file for people: bytes that aren't UTF-8 and control characters written out.

    >>> shown("caf\udce9.wav"), shown("bad\x1b[2J.wav")
    ('caf\\xe9.wav', 'bad\\x1b[2J.wav')
    """
    return visible(os.fsencode(path).decode("utf-8", "backslashreplace"))


def sentence(text: object) -> str:
    """Return a message as one line that is no longer than a person reads.

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
