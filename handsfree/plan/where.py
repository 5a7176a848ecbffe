"""Which line of a TOML text a key stands on, so that an error can say so.

The standard reader gives the line of a syntax error only. This looks through the text again,
line by line; where it can't tell (a key inside an inline table) it gives the nearest line above.
"""

from __future__ import annotations

import re

from handsfree.textfile import lines_of as text_lines

Place = tuple[str | int, ...]

_HEADER = re.compile(r"\s*(\[\[?)\s*(.+?)\s*\]\]?\s*(?:#.*)?")
_KEY = re.compile(
    r"""\s*((?:"[^"]*"|'[^']*'|[A-Za-z0-9_-]+)(?:\s*\.\s*(?:"[^"]*"|'[^']*'|[A-Za-z0-9_-]+))*)\s*="""
)
_PIECE = re.compile(r""""([^"]*)"|'([^']*)'|([A-Za-z0-9_-]+)""")


def _pieces(dotted: str) -> list[str]:
    return [next(part for part in found if part) for found in _PIECE.findall(dotted) if any(found)]


def lines_of(text: str) -> dict[Place, int]:
    r"""Give the line (from 1) of every key and table header of `text`, by its path.

    >>> lines_of('[[check]]\nname = "a"\n')[("check", 0, "name")]
    2
    """
    lines: dict[Place, int] = {}
    counts: dict[Place, int] = {}
    table: Place = ()
    for number, line in enumerate(text_lines(text), start=1):
        header = _HEADER.fullmatch(line)
        if header:
            table = ()
            pieces = _pieces(header[2])
            for piece in pieces[:-1]:
                table += (piece,)
                if table in counts:
                    table += (counts[table],)
            table += tuple(pieces[-1:])
            if header[1] == "[[":
                counts[table] = counts.get(table, -1) + 1
                table += (counts[table],)
            elif table in counts:
                table += (counts[table],)
            lines.setdefault(table, number)
            continue
        key = _KEY.match(line)
        if key:
            lines.setdefault(table + tuple(_pieces(key[1])), number)
    return lines


def line_of(text: str, place: Place) -> int | None:
    """Give the line of `place` or of the nearest table around it, or None if nothing is found."""
    lines = lines_of(text)
    while place:
        if place in lines:
            return lines[place]
        place = place[:-1]
    return None


def dotted(place: Place) -> str:
    """Write a path as a person counts: the second target of the first check is ``check[1].target[2]``.

    >>> dotted(("check", 0, "target", 1, "aim"))
    'check[1].target[2].aim'
    """
    text = ""
    for piece in place:
        text += f"[{piece + 1}]" if isinstance(piece, int) else f".{piece}"
    return text.removeprefix(".")
