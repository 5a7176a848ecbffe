"""Characters as large as the screen allows, legible at three metres; and phrases three rows high."""

from __future__ import annotations

from functools import cache
from math import ceil

BLOCK = "█"
HEIGHT = 5
"""Rows of a character at scale 1."""

_GAP = 1  # dots between characters
_BLOCKS = {(False, False): " ", (True, False): "▀", (False, True): "▄", (True, True): "█"}
_DOT = 2  # columns of a dot in `large`

# Dots of each character, rows separated by /. Drawn for this project: three dots wide if that is
# enough, five rows high. Digits are those of a seven-segment display; O has round corners, 0 has none.
_DOTS = """
0 ###/#.#/#.#/#.#/###
1 .#./##./.#./.#./###
2 ###/..#/###/#../###
3 ###/..#/.##/..#/###
4 #.#/#.#/###/..#/..#
5 ###/#../###/..#/###
6 ###/#../###/#.#/###
7 ###/..#/..#/.#./.#.
8 ###/#.#/###/#.#/###
9 ###/#.#/###/..#/###
A .#./#.#/###/#.#/#.#
B ##./#.#/##./#.#/##.
C ###/#../#../#../###
D ##./#.#/#.#/#.#/##.
E ###/#../##./#../###
F ###/#../##./#../#..
G ####/#.../#.##/#..#/####
H #.#/#.#/###/#.#/#.#
I ###/.#./.#./.#./###
J ..#/..#/..#/#.#/###
K #..#/#.#./##../#.#./#..#
L #../#../#../#../###
M #...#/##.##/#.#.#/#...#/#...#
N #..#/##.#/#.##/#..#/#..#
O .##./#..#/#..#/#..#/.##.
P ###/#.#/###/#../#..
Q .##./#..#/#..#/#.#./.#.#
R ##./#.#/##./#.#/#.#
S .###/#.../.##./...#/###.
T ###/.#./.#./.#./.#.
U #.#/#.#/#.#/#.#/###
V #.#/#.#/#.#/#.#/.#.
W #...#/#...#/#.#.#/##.##/#...#
X #.#/#.#/.#./#.#/#.#
Y #.#/#.#/.#./.#./.#.
Z ###/..#/.#./#../###
. ././././#
, ././././#
- .../.../###/.../...
+ .../.#./###/.#./...
< ..#/.#./#../.#./..#
> #../.#./..#/.#./#..
= .../###/.../###/...
? ###/..#/.##/.../.#.
/ ..#/..#/.#./#../#..
: ./#/./#/.
' #/#/././.
"""


@cache
def _glyphs() -> dict[str, tuple[str, ...]]:
    glyphs = {" ": ("..",) * HEIGHT}
    for line in _DOTS.strip().splitlines():
        sign, dots = line.split(" ", 1)
        glyphs[sign] = tuple(dots.split("/"))
    return glyphs


def width(text: str, scale: float = 1) -> int:
    """Return the columns that a text takes; a dot is two columns by one row at scale 1."""
    dots = [len(_glyph(sign)[0]) for sign in text.upper()]
    return round(2 * scale) * (sum(dots) + _GAP * max(0, len(dots) - 1))


def height(scale: float = 1) -> int:
    """Return the rows that a text takes."""
    return ceil(HEIGHT * scale)


def large(text: str, scale: float = 1, ink: str = BLOCK) -> list[str]:
    """Draw a text, 5 rows high times `scale`. Unknown signs become a question mark.

    scale: a multiple of a half if the ink is a block, since a block has halves; else a whole number.

    >>> for row in large("1.5", ink="#"):
    ...     print(row)
      ##        ######
    ####        ##
      ##        ######
      ##            ##
    ######  ##  ######
    """
    dots = [("." * _GAP).join(_glyph(sign)[row] for sign in text.upper()) for row in range(HEIGHT)]
    if scale == int(scale):
        rows = []
        for row in dots:
            line = "".join((ink if dot == "#" else " ") * (2 * int(scale)) for dot in row)
            rows += [line.rstrip()] * int(scale)
        return rows
    side = round(2 * scale)  # columns and half rows of a dot
    halves = [[dot == "#" for dot in row for _ in range(side)] for row in dots for _ in range(side)]
    return _in_halves(halves)


def _in_halves(halves: list[list[bool]]) -> list[str]:
    """Draw rows of half a line's height."""
    full = halves + [[False] * len(halves[0])] * (len(halves) % 2)
    return [
        "".join(_BLOCKS[pair] for pair in zip(upper, lower, strict=True)).rstrip()
        for upper, lower in zip(full[::2], full[1::2], strict=True)
    ]


def scales(ink: str = BLOCK, most: int = 6) -> list[float]:
    """Return the scales that can be drawn, largest first."""
    return [half / 2 for half in range(2 * most, 1, -1) if ink == BLOCK or half % 2 == 0]


def _glyph(sign: str) -> tuple[str, ...]:
    return _glyphs().get(sign, _glyphs()["?"])


def banner(text: str, columns: int) -> list[str]:
    """Draw a phrase with as many words a line as fit; a word too wide for a line stays in plain letters.

    A dot is one column by half a row, which is about square.

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
    return _in_halves([row + [False] * (wide - len(row)) for row in dots])
