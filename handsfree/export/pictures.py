"""Pictures of a check as SVG, for the page and the printed sheet. Pure.

Readings against their limits are places in a drawing, as fractions of its width; two kinds of picture are
made of them: all positions beside each other, and the passes of filing each ring. A sign's form says what
its colour says: a dot lies inside the limits, a diamond outside, a triangle beyond the drawing; a bar is
where a bound leaves the measure.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from fractions import Fraction
from itertools import groupby
from xml.sax.saxutils import escape, quoteattr

from handsfree.journal import LeafSide
from handsfree.judge import State
from handsfree.length import Length, Unit, as_given, in_unit
from handsfree.plan import Check, Position, Rule, Target
from handsfree.session import Entry, Result, Session, entry_text, figure_of, results

_WIDEST = 3  # the drawing shows at most this many widths of the limits on either side
_MARGIN = Fraction(1, 8)


@dataclass(frozen=True, slots=True)
class Scale:
    """The drawing's ends, as exact millimetres from the aim; labels are in `unit`."""

    left: Fraction
    right: Fraction
    unit: Unit

    def place(self, mm: Fraction) -> float:
        """Return a deviation's place in the drawing: 0 at the left end, 1 at the right."""
        return round(float((mm - self.left) / (self.right - self.left)), 4)


def scale_of(unit: Unit, found: Iterable[Result], more: Iterable[Fraction] = ()) -> Scale | None:
    """Return a scale that covers the limits of all these results, and their readings unless far outside.

    more: further deviations from the aim, in millimetres, to be covered like readings.
    """
    aimed = [(result.target, result.against_limits) for result in found if result.target is not None]
    if not aimed:
        return None
    low = min(target.lower.mm - target.aim.mm for target, _ in aimed)
    high = max(target.upper.mm - target.aim.mm for target, _ in aimed)
    width = (high - low) or Fraction(1, 100)
    deviations = [figure.mm - target.aim.mm for target, figure in aimed if figure is not None] + list(more)
    left = max(min([low, *deviations]), low - _WIDEST * width)
    right = min(max([high, *deviations]), high + _WIDEST * width)
    margin = (right - left or width) * _MARGIN
    return Scale(left - margin, right + margin, unit)


def signed(mm: Fraction, unit: Unit) -> str:
    """Return a rounded label for an end of the drawing."""
    places = {Unit.THOU: 1, Unit.INCH: 4, Unit.MM: 3, Unit.MICRON: 0}[unit]
    return f"{in_unit(mm, unit, places):+f}".replace("-", "\u2212")


def drawing(result: Result, scale: Scale | None) -> dict[str, object]:
    """Return the drawing of one result: its limits, its aim, and the reading as a mark or a bar."""
    target = result.target
    if target is None or scale is None:
        return {"limits": None, "aim": None, "kind": "nothing", "at": []}
    aim = target.aim.mm
    limits = [scale.place(target.lower.mm - aim), scale.place(target.upper.mm - aim)]
    kind, at = _reading(result, target, scale)
    return {"limits": limits, "aim": scale.place(Fraction(0)), "kind": kind, "at": at}


def _reading(result: Result, target: Target, scale: Scale) -> tuple[str, list[float]]:
    if result.against_limits is not None:
        return _mark(result.against_limits, target, scale)
    return _bar(result.last, target, scale)


def _mark(figure: Length, target: Target, scale: Scale) -> tuple[str, list[float]]:
    at = scale.place(figure.mm - target.aim.mm)
    if not 0 <= at <= 1:
        return ("left" if at < 0 else "right"), []
    inside = target.lower.mm <= figure.mm <= target.upper.mm
    return ("inside" if inside else "outside"), [at]


def _bar(entry: Entry | None, target: Target, scale: Scale) -> tuple[str, list[float]]:
    """Return the bar of a bound, or of two leaves between which the gap lies."""
    if entry is None or entry.value is None or entry.bound is None:
        return "nothing", []
    ends = [entry.value, entry.event.draft.other]
    places = sorted(_clamped(scale.place(end.mm - target.aim.mm)) for end in ends if end is not None)
    if len(places) == 1:
        return "span", [0.0, *places] if entry.bound is LeafSide.UNDER else [*places, 1.0]
    return "span", places


def _clamped(place: float) -> float:
    return min(max(place, 0.0), 1.0)


# ---- pictures


@dataclass(frozen=True, slots=True)
class Ink:
    """The colours of a picture, as SVG writes them."""

    paper: str
    ink: str
    soft: str
    band: str
    good: str
    out: str


PAPER = Ink("#ffffff", "#14181b", "#55616b", "#d9e6dc", "#0f6434", "#a3160c")
DARK = Ink("#101418", "#f2f5f7", "#a9b6c1", "#22402d", "#5fd38a", "#ff8b80")


@dataclass(frozen=True, slots=True)
class Shape:
    """One shape: a box (x, y, width, height), a line, path or area (points), a dot or a text (x, y).

    role: a colour of `Ink`. anchor: where x lies in a text.
    """

    kind: str
    at: tuple[float, ...]
    role: str
    text: str = ""
    anchor: str = "middle"


@dataclass(frozen=True, slots=True)
class Picture:
    """A picture, ready to be written. about: what it shows, in words, for those who don't see it."""

    about: str
    width: int
    height: int
    shapes: tuple[Shape, ...]


_ACROSS, _STEP = 16, 28  # columns beside each other, and their width
_LEFT = 46  # for the labels of the scale
_HIGH, _BAND = 96, 12  # of a row's drawing, and of a column's limits
_LINE = 12  # of text
_PANELS, _PANEL_WIDE, _PANEL_HIGH = 4, 122, 74
_MOST = 320  # places in a picture
_LETTERS = 4  # of a label, for each column under which it stands


def pictures_of(session: Session) -> list[Picture]:
    """Return the pictures of a session's checks that have something to show."""
    return [drawn for check in session.plan.checks for drawn in _check_pictures(session, check)]


def _check_pictures(session: Session, check: Check) -> list[Picture]:
    found = [one for one in results(session) if one.check is check and one.target is not None]
    if not any(one.last is not None for one in found):
        return []
    filed = []
    if check.rule is Rule.FILE_TO_GAP:
        filed = [one for one in found if len(_passes(session, check, one.item)) > 1]
    glance = _glance(check, found[:_MOST])
    return [glance, _filing(session, check, filed[:_MOST])] if filed else [glance]


def picture(drawn: Picture, ink: Ink) -> str:
    """Return a picture as SVG, without styles, scripts or anything from elsewhere."""
    size = f'width="{drawn.width}" height="{drawn.height}" viewBox="0 0 {drawn.width} {drawn.height}"'
    about = _plain(drawn.about, 2000)
    lines = [
        f'<svg xmlns="http://www.w3.org/2000/svg" {size} role="img" aria-label={quoteattr(about)} '
        'font-family="Libertinus Serif, system-ui, sans-serif" font-size="11">',
        f'<rect width="{drawn.width}" height="{drawn.height}" fill="{ink.paper}"/>',
        *(_written(shape, getattr(ink, shape.role), ink.paper) for shape in drawn.shapes),
        "</svg>",
    ]
    return "\n".join(lines) + "\n"


def _written(shape: Shape, colour: str, paper: str) -> str:
    numbers = [f"{value:.1f}" for value in shape.at]
    match shape.kind:
        case "box":
            x, y, wide, high = numbers
            return f'<rect x="{x}" y="{y}" width="{wide}" height="{high}" fill="{colour}"/>'
        case "line":
            x, y, to_x, to_y = numbers
            return f'<line x1="{x}" y1="{y}" x2="{to_x}" y2="{to_y}" stroke="{colour}"/>'
        case "dot":
            x, y = numbers
            return f'<circle cx="{x}" cy="{y}" r="3.4" fill="{colour}"/>'
        case "text":
            x, y = numbers
            said = escape(_plain(shape.text, 200))
            return f'<text x="{x}" y="{y}" fill="{colour}" text-anchor="{shape.anchor}">{said}</text>'
    points = " ".join(",".join(pair) for pair in zip(numbers[::2], numbers[1::2], strict=True))
    if shape.kind == "path":
        return f'<polyline points="{points}" fill="none" stroke="{colour}" stroke-width="1.4"/>'
    return f'<polygon points="{points}" fill="{paper}" stroke="{colour}" stroke-width="1.8"/>'


def _plain(text: str, most: int) -> str:
    """Return a text that XML can hold, on one line."""
    kept = "".join(sign if sign.isprintable() else " " for sign in text[: most + 1])
    return kept if len(kept) <= most else f"{kept[: most - 1]}\u2026"


def _sign(kind: str, at: Sequence[float], x: float, top: float, high: float) -> Iterator[Shape]:
    """Yield the sign of a reading in a drawing that goes from its top down."""

    def y(place: float) -> float:
        return top + high * (1 - place)

    match kind:
        case "inside":
            yield Shape("dot", (x, y(at[0])), "good")
        case "outside":
            middle = y(at[0])
            yield Shape("area", (x, middle - 5, x + 5, middle, x, middle + 5, x - 5, middle), "out")
        case "left":
            end = top + high
            yield Shape("area", (x, end, x - 5, end - 7, x + 5, end - 7), "out")
        case "right":
            yield Shape("area", (x, top, x - 5, top + 7, x + 5, top + 7), "out")
        case "span":
            yield Shape("box", (x - 1.5, y(at[1]), 3, max(high * (at[1] - at[0]), 1)), "ink")


def _ends(scale: Scale, top: float, high: float) -> Iterator[Shape]:
    """Yield the labels of a drawing's scale, left of it."""
    aim = top + high * (1 - scale.place(Fraction(0)))
    yield Shape("text", (_LEFT - 6, top + 9), "soft", signed(scale.right, scale.unit), "end")
    yield Shape("text", (_LEFT - 6, top + high), "soft", signed(scale.left, scale.unit), "end")
    if top + 20 < aim < top + high - 12:
        yield Shape("text", (_LEFT - 6, aim + 4), "ink", "aim", "end")


def _glance(check: Check, found: Sequence[Result]) -> Picture:
    """Return all positions beside each other, each against its own limits, measured from its aim."""
    scale = scale_of(check.unit, found)
    assert scale is not None  # noqa: S101 - only results with a target are drawn
    labels = max(len(one.item.labels) for one in found)
    row_high = _HIGH + labels * _LINE + 14
    shapes = [Shape("text", (4, 14), "ink", f"{check.name}: {check.unit} from the aim", "start")]
    for number, one in enumerate(found):
        top = 24.0 + row_high * (number // _ACROSS)
        if number % _ACROSS == 0:
            shapes += _ends(scale, top, _HIGH)
            shapes += _labels(found[number : number + _ACROSS], top)
        shapes += _column(one, scale, _LEFT + _STEP * (number % _ACROSS) + _STEP / 2, top)
    height = 24 + row_high * -(-len(found) // _ACROSS)
    kinds = [drawing(one, scale)["kind"] for one in found]
    outside = sum(kind in {"outside", "left", "right"} for kind in kinds)
    about = (
        f"{check.name}, every position against its limits: {kinds.count('inside')} inside, "
        f"{outside} outside, {kinds.count('span')} known by a leaf alone, {kinds.count('nothing')} open"
    )
    width = _LEFT + _STEP * max(min(len(found), _ACROSS), 8) + 8
    return Picture(about, width, height, tuple(shapes))


def _column(result: Result, scale: Scale, x: float, top: float) -> Iterator[Shape]:
    target = result.target
    assert target is not None  # noqa: S101 - only results with a target are drawn
    yield Shape("line", (x, top, x, top + _HIGH), "band")
    yield from _limits(target, scale, x - _BAND / 2, top, _BAND, _HIGH)
    kind, at = _reading(result, target, scale)
    yield from _sign(kind, at, x, top, _HIGH)


def _labels(row: Sequence[Result], top: float) -> Iterator[Shape]:
    """Yield the labels of a row's columns: one under each run of columns that share it."""
    depth = max(len(one.item.labels) for one in row)
    for line in range(depth):
        names = [one.item.labels[line][1] if line < len(one.item.labels) else "" for one in row]
        first = 0
        for name, run in groupby(names):
            count = len(list(run))
            middle = _LEFT + _STEP * (first + count / 2)
            said = _plain(name, count * _LETTERS)
            yield Shape("text", (middle, top + _HIGH + _LINE * (line + 1)), "soft", said)
            first += count


def _limits(target: Target, scale: Scale, x: float, top: float, wide: float, high: float) -> Iterator[Shape]:
    """Yield the limits as a band, the aim as a line through it."""
    aim = target.aim.mm
    upper, lower = (
        top + high * (1 - _clamped(scale.place(end.mm - aim))) for end in (target.upper, target.lower)
    )
    middle = top + high * (1 - scale.place(Fraction(0)))
    yield Shape("box", (x, upper, wide, max(lower - upper, 1)), "band")
    yield Shape("line", (x, middle, x + wide, middle), "soft")


def _passes(session: Session, check: Check, place: Position) -> tuple[Entry, ...]:
    return tuple(entry for entry in session.standing(check.name, place) if entry.value is not None)


def _filing(session: Session, check: Check, found: Sequence[Result]) -> Picture:
    """Return the gap over the passes of filing, a panel for each ring, all on one scale."""
    figures = [
        figure.mm - one.target.aim.mm
        for one in found
        if one.target is not None
        for entry in _passes(session, check, one.item)
        if (figure := figure_of(entry)) is not None
    ]
    scale = scale_of(check.unit, found, figures)
    assert scale is not None  # noqa: S101 - only results with a target are drawn
    row_high = _PANEL_HIGH + 44
    title = f"{check.name}: gap over the readings, {check.unit} from the aim; below, turns of the filer"
    shapes = [Shape("text", (4, 14), "ink", title, "start")]
    for number, one in enumerate(found):
        top = 40.0 + row_high * (number // _PANELS)
        if number % _PANELS == 0:
            shapes += _ends(scale, top, _PANEL_HIGH)
        shapes += _panel(session, one, scale, _LEFT + _PANEL_WIDE * (number % _PANELS), top)
    tries = sum(len(_passes(session, check, one.item)) for one in found)
    about = f"{check.name}, the gap of {len(found)} rings over {tries} readings with their target bands: "
    about += "; ".join(f"{_name(one)} {_told(session, one)}" for one in found)
    height = 30 + row_high * -(-len(found) // _PANELS)
    return Picture(about, _LEFT + _PANEL_WIDE * _PANELS + 4, height, tuple(shapes))


def _name(result: Result) -> str:
    return " ".join(label for _, label in result.item.labels)


def _told(session: Session, result: Result) -> str:
    return ", ".join(entry_text(entry) for entry in _passes(session, result.check, result.item))


def _panel(session: Session, result: Result, scale: Scale, left: float, top: float) -> Iterator[Shape]:
    target, wide = result.target, _PANEL_WIDE - 12.0
    assert target is not None  # noqa: S101 - only results with a target are drawn
    entries = _passes(session, result.check, result.item)
    where = [left + 12 + (wide - 24) * n / (len(entries) - 1) for n in range(len(entries))]
    yield Shape("text", (left + wide / 2, top - 5), "ink", _plain(f"{_name(result)}: {result.text}", 24))
    yield from _limits(target, scale, left, top, wide, _PANEL_HIGH)
    signs: list[Shape] = []
    lines: list[list[float]] = [[]]
    for x, entry in zip(where, entries, strict=True):
        figure = figure_of(entry)
        kind, at = _bar(entry, target, scale) if figure is None else _mark(figure, target, scale)
        signs += _sign(kind, at, x, top, _PANEL_HIGH)
        if kind in {"inside", "outside"}:
            lines[-1] += [x, top + _PANEL_HIGH * (1 - at[0])]
        if entry.verdict is State.OVER:
            lines.append([])  # the next reading is of another ring
    yield from (Shape("path", tuple(line), "ink") for line in lines if len(line) > 2)
    yield from signs
    spots = dict(zip((entry.number for entry in entries), where, strict=True))
    for one in session.passes(result.check.name, result.item):
        if one.before.number in spots and one.after.number in spots:
            middle = (spots[one.before.number] + spots[one.after.number]) / 2
            yield Shape("text", (middle, top + _PANEL_HIGH + _LINE), "soft", as_given(one.turns))
