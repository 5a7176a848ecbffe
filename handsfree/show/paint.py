"""The view as lines of styled text, for any size from 60 by 16."""

from __future__ import annotations

import textwrap
from collections.abc import Sequence

from rich.text import Text

from handsfree.live import Ears
from handsfree.show.letters import height, large, scales, width
from handsfree.show.view import MARK_WORDS, METER_STEPS, BenchView, Cell, Grid, Mark

# Colour only repeats the information of a sign and a word.
MARK_STYLES = {
    Mark.OPEN: "",
    Mark.SHORT: "bold yellow",
    Mark.GOOD: "bold green",
    Mark.OVER: "bold white on red",
    Mark.UNSURE: "bold magenta",
    Mark.NOTED: "bold",
}
_INK_STYLES = MARK_STYLES | {Mark.OVER: "bold red"}  # large letters need no background
_EARS = {
    Ears.STARTING: ("..", "dim"),
    Ears.LISTENING: ("()", "bold green"),
    Ears.HEARING: ("((", "bold cyan"),
    Ears.THINKING: ("..", "bold cyan"),
    Ears.SHUT: ("<<", "bold reverse"),
    Ears.ASLEEP: ("zz", "bold yellow"),
    Ears.DEAF: ("xx", "bold white on red"),
    Ears.OFF: ("--", "bold"),
}
_WORDS = frozenset({"GOOD", "AGAIN", "FILE"})  # amounts that are words
_SIDE = 2  # columns between large texts
_MOST_ROWS = 6  # of the grid
_ANSWER_ROWS = 4  # needed by the cautions at the start of a session
_TALL = 20  # rows of the screen from which a long answer may take several rows


def paint(view: BenchView, columns: int, rows: int, *, ink: str = "█") -> Text:
    """Draw a view: `rows` lines, none longer than `columns`.

    ink: the character of large letters; "#" if a terminal lacks blocks.
    """
    head = [_header(view, columns), *[_line(f"! {each}", "bold red", columns) for each in view.trouble[-2:]]]
    grid = _grid(view.grid, columns)
    foot = [
        _said("heard", view.heard, columns),
        *(_wrapped if rows >= _TALL and not view.notice else _one_line)("answer", view.answer, columns),
        _status(view, columns),
    ]
    if view.notice or view.question:
        space = rows - len(head) - len(foot)
        middle = _notice(view.notice, columns) if view.notice else _question(view, columns, space, ink)
        grid = []
    else:
        space = rows - len(head) - len(grid) - len(foot)
        middle = _figures(view, columns, space, ink)
    lines = [*head, *(middle + [Text("")] * (space - len(middle)))[: max(0, space)], *grid, *foot]
    blank = Text("")
    lines += [blank] * (rows - len(lines))
    return Text("\n", no_wrap=True, overflow="crop").join(lines[:rows])


def _header(view: BenchView, columns: int) -> Text:
    sign, style = _EARS[view.ears]
    ears = f" {sign} {view.ears.value.upper()} "
    right = f"  {view.clock}"
    room = max(0, columns - len(ears) - len(right) - 1)
    title = f"{view.title}: {view.check}"
    line = Text(_cut(title, room).ljust(room))
    line.append(" ")
    line.append(ears, style)
    line.append(right)
    return line


def _figures(view: BenchView, columns: int, rows: int, ink: str) -> list[Text]:
    """Draw the position in hand and the last reading, and below them the amount left, larger still."""
    upper = _pair(view, columns, 1 if rows < 18 else 2, ink)
    caption = _caption(view, columns)
    left = rows - len(upper) - 1
    style = _INK_STYLES[view.mark]
    drawn = [Text(row, style) for row in _amount(view, columns, left, ink)]
    pad = max(0, left - len(drawn))
    return [*upper, caption, *[Text("")] * ((pad + 1) // 2), *drawn, *[Text("")] * (pad // 2)]


def _amount(view: BenchView, columns: int, rows: int, ink: str) -> list[str]:
    """Draw the amount and its word, both as large as the space for the two allows."""
    amount, word = view.amount or "-", _word(view)
    if not word:
        return _lines((amount,), columns, rows, ink)
    for scale in scales(ink):
        if height(scale) > rows:
            continue
        if width(amount, scale) + 2 * _SIDE + width(word, scale) <= columns:
            return _side_by_side(amount, word, columns, scale, ink)
        if 2 * height(scale) + 1 <= rows and max(width(amount, scale), width(word, scale)) <= columns:
            return [*large(word, scale, ink), "", *large(amount, scale, ink)]
    return [_cut(f"   {amount}  {word}", columns)]


def _word(view: BenchView) -> str:
    """Return the word beside the amount; empty if the amount is that word, or is clear without it."""
    word = view.caption.removesuffix(" by").removesuffix(" shim").upper()
    return "" if view.amount in _WORDS else word


def _side_by_side(amount: str, word: str, columns: int, scale: float, ink: str) -> list[str]:
    start = columns - width(word, scale)
    rows = zip(large(amount, scale, ink), large(word, scale, ink), strict=True)
    return [one.ljust(start) + other for one, other in rows]


def _question(view: BenchView, columns: int, rows: int, ink: str) -> list[Text]:
    """Draw an open question over all the space."""
    drawn = _lines(view.question, columns, rows, ink)
    style = _INK_STYLES[Mark.UNSURE]
    top = max(0, rows - len(drawn)) // 2
    return [*[Text("")] * top, *[Text(row, style) for row in drawn]]


def _lines(texts: Sequence[str], columns: int, rows: int, ink: str) -> list[str]:
    """Draw texts below each other in the largest size that fits all; as plain text if none does."""
    for scale in scales(ink):
        fits = all(width(text, scale) <= columns for text in texts)
        if fits and len(texts) * (height(scale) + 1) - 1 <= rows:
            drawn = [row for text in texts for row in (*large(text, scale, ink), "")]
            return drawn[:-1]
    return [row for text in texts for row in textwrap.wrap(text, max(1, columns))]


def _notice(notice: Sequence[str], columns: int) -> list[Text]:
    """Draw the text to read before the work begins, in full."""
    lines: list[Text] = []
    for sentence in notice:
        first, _, rest = sentence.partition(". ")
        wrapped = textwrap.wrap(f"{first}. {rest}" if rest else first, max(1, columns - 2))
        for number, row in enumerate(wrapped):
            line = Text("- " if number == 0 else "  ")
            line.append(row, "bold" if number == 0 else "")
            lines.append(line)
    return lines


def _pair(view: BenchView, columns: int, scale: int, ink: str) -> list[Text]:
    place, reading = view.place, view.reading
    while scale > 1 and width(place, scale) + width(reading, scale) + 2 * _SIDE > columns:
        scale -= 1
    if width(place, scale) + width(reading, scale) + 2 * _SIDE > columns:
        return [_line(f"{place.upper()}    {reading}", "bold", columns)]
    left, right = large(place, scale, ink), large(reading, scale, ink)
    start = columns - width(reading, scale)
    style = _INK_STYLES[view.mark]
    lines = []
    for one, other in zip(left, right, strict=True):
        line = Text(one.ljust(start), "bold")
        line.append(other, style)
        lines.append(line)
    return lines


def _caption(view: BenchView, columns: int) -> Text:
    """Caption the large figures: "in hand, 18 to 19.5 thou ... 3 top SHORT < FILE"."""
    left = f"in hand: {view.place}" + (f", {view.target}" if view.target else "")
    word = MARK_WORDS[view.mark].upper()
    caption = "" if view.caption == MARK_WORDS[view.mark] else f"   {view.caption.upper()}"
    right = f"{view.of} {word} {view.mark.value}{caption}"
    room = max(0, columns - len(right) - 1)
    line = Text(_cut(left, room).ljust(room) + " ")
    line.append(_cut(right, columns), MARK_STYLES[view.mark])
    return line


def _grid(grid: Grid, columns: int) -> list[Text]:
    """Draw the positions as a table; only their signs if values don't fit."""
    names = max(len(name) for name in grid.down)
    widest = max((len(cell.value) for row in grid.cells for cell in row if cell is not None), default=0)
    labels = max(len(label) for label in grid.across)
    each = max(labels, widest + 1, 3) + 2
    if names + 1 + each * len(grid.across) > columns:
        each = max(3, min(each, (columns - names - 1) // len(grid.across)))
    fits = max(1, (columns - names - 1) // each)
    first = _first(grid, fits)
    shown = range(first, min(len(grid.across), first + fits))
    lines = [
        Text(" " * (names + 1) + "".join(_cut(grid.across[n], each - 1).center(each) for n in shown), "dim")
    ]
    start = _first_row(grid)
    for name, row in list(zip(grid.down, grid.cells, strict=True))[start : start + _MOST_ROWS]:
        line = Text(name.ljust(names + 1))
        for number in shown:
            line.append_text(_cell(row[number], each))
        lines.append(line)
    return lines


def _cell(cell: Cell | None, columns: int) -> Text:
    if cell is None:
        return Text(" " * columns)
    inside = f"{cell.value}{cell.mark.value}" if len(cell.value) + 3 <= columns else cell.mark.value
    text = f"[{inside}]" if cell.in_hand else f" {inside} "
    return Text(text.center(columns), MARK_STYLES[cell.mark] + (" reverse" if cell.in_hand else ""))


def _first(grid: Grid, fits: int) -> int:
    """Return the first column to show, so that the position in hand is among them."""
    held = [n for row in grid.cells for n, cell in enumerate(row) if cell is not None and cell.in_hand]
    return 0 if not held else max(0, min(held[0] - fits // 2, len(grid.across) - fits))


def _first_row(grid: Grid) -> int:
    held = [n for n, row in enumerate(grid.cells) if any(cell is not None and cell.in_hand for cell in row)]
    return 0 if not held else max(0, min(held[0] - _MOST_ROWS // 2, len(grid.down) - _MOST_ROWS))


def _said(what: str, words: str, columns: int, style: str = "") -> Text:
    line = Text(f"{what:<7}", "dim")
    line.append(_cut(words, columns - 7), style)
    return line


def _one_line(what: str, words: str, columns: int) -> list[Text]:
    return [_said(what, words, columns, "bold")]


def _wrapped(what: str, words: str, columns: int) -> list[Text]:
    """Wrap words to as many lines as they need: a question's last words say how to answer it."""
    parts = textwrap.wrap(words, max(1, columns - 7)) or [""]
    if len(parts) > _ANSWER_ROWS:
        parts[_ANSWER_ROWS - 1 :] = [" ".join(parts[_ANSWER_ROWS - 1 :])]
    return [_said(what if n == 0 else "", part, columns, "bold") for n, part in enumerate(parts)]


def _status(view: BenchView, columns: int) -> Text:
    bar = "".join("#" if n < view.meter else "-" if n < view.floor else "." for n in range(METER_STEPS))
    parts = [f"mic [{bar}]", f"{view.done} of {view.total} done"]
    if view.estimate:
        parts.append(view.estimate)
    parts.append(f"keys: {view.begun}_" if view.begun else "")
    return Text(_cut("   ".join(part for part in parts if part), columns))


def _line(text: str, style: str, columns: int) -> Text:
    return Text(_cut(text, columns), style)


def _cut(text: str, columns: int) -> str:
    return text if len(text) <= columns else text[: max(0, columns - 1)] + ("…" if columns else "")
