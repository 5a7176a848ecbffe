"""`handsfree journal stats`: mean, spread, Cp and Cpk over many journals, and how the voice was heard."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

from rich.console import Console
from rich.table import Table

from handsfree.commands.outputs import refuse_onto, write_output
from handsfree.commands.printing import add_row, say_line
from handsfree.errors import HandsfreeError, JournalError
from handsfree.export import (
    CAUTION,
    HEARD_CAUTION,
    HEARD_COLUMNS,
    Capability,
    Sample,
    bins,
    capability,
    facts,
    find,
    heard_rows,
    plot,
    samples,
)
from handsfree.session import Recorded, Spoken, read, spoken

_BAR = 40


def statistics(
    places: Sequence[Path],
    console: Console,
    *,
    check: str | None = None,
    engine: str | None = None,
    confidence: float = 0.95,
    plot_to: Path | None = None,
) -> None:
    """Print mean, spread, Cp and Cpk of each check over many journals, and how the voice was heard.

    Args:
        places: journals and folders.
        console: the output.
        check: only the check of this name.
        engine: only engines whose name contains this.
        confidence: confidence level of the intervals, between 0 and 1.
        plot_to: also plot them to this file, PDF or SVG by its suffix.

    Raises:
        HandsfreeError: there are no readings, or the plot can't be made.
    """
    if not 0 < confidence < 1:
        raise HandsfreeError(
            f"A confidence of {confidence} makes no sense; give one between 0 and 1, such as 0.95."
        )
    if plot_to is not None:
        refuse_onto(plot_to, places)  # before the work
    read_ones, unreadable = _readable(places, engine)
    gathered = [(one, capability(one.values, one.limits, confidence)) for one in samples(read_ones, check)]
    said = [
        (one, recorded) for recorded in read_ones for one in spoken(recorded) if check in (None, one.check)
    ]
    if not gathered and not said:
        raise JournalError(
            "There is nothing to reckon with: no check with limits was measured in these journals, and "
            "nothing was said."
        )
    for sample, found in gathered:
        say_line(console, f"\n{sample.name} ({sample.unit})")
        table = Table(box=None, pad_edge=False, show_header=False)
        pairs = facts(sample, found)
        for left, right in zip(pairs[::2], pairs[1::2], strict=True):
            add_row(table, *left, *right)
        console.print(table)
        _bars(sample, found, console)
    if gathered:
        say_line(console, f"\n{CAUTION}")
    if said:
        _heard(said, console, confidence)
    for sentence in unreadable:
        say_line(console, f"not read: {sentence}")
    if plot_to is not None:
        drawn = plot(gathered, plot_to.suffix.removeprefix(".").lower() or "pdf")
        write_output(plot_to, drawn, [one.path for one in read_ones])


def _heard(said: Sequence[tuple[Spoken, Recorded]], console: Console, confidence: float) -> None:
    """Print how many readings by voice stood, by person, check and noise."""
    say_line(console, "\nHeard by voice")
    table = Table(box=None, pad_edge=False, header_style="")
    for name in HEARD_COLUMNS:
        table.add_column(name, justify="right" if name else "left", min_width=0 if name else 16)
    for row in heard_rows(said, confidence):
        add_row(table, *row)
    console.print(table)
    brackets = f"In brackets: where the share may lie, {100 * confidence:g} % Wilson interval."
    say_line(console, f"\n{brackets} {HEARD_CAUTION}")


def _readable(places: Sequence[Path], engine: str | None) -> tuple[list[Recorded], list[str]]:
    found, unreadable = [], []
    for path in find(places):
        try:
            recorded = read(path)
        except HandsfreeError as fault:
            unreadable.append(str(fault))
            continue
        if engine is None or engine.casefold() in recorded.engine.casefold():
            found.append(recorded)
    return _once_each(found, unreadable), unreadable


def _once_each(found: Sequence[Recorded], unread: list[str]) -> list[Recorded]:
    """Drop copies: of journals with the same first event, the longest counts."""
    longest: dict[str, Recorded] = {}
    for one in sorted(found, key=lambda one: -len(one.events)):
        kept = longest.setdefault(one.began.id, one)
        if kept is not one:
            unread.append(f"{one.path} is a copy of {kept.path}, which is as long or longer.")
    return [one for one in found if longest[one.began.id] is one]


def _bars(sample: Sample, found: Capability, console: Console) -> None:
    """Draw a histogram of sizes; L and U mark the bins of the limits."""
    if not found.n:
        return
    counted = bins(sample.values, sample.limits)
    most = max(count for _, _, count in counted)
    lower, upper = sample.limits
    for low, high, count in counted:
        mark = ("L" if low <= lower < high else " ") + ("U" if low <= upper < high else " ")
        bar = "#" * (max(1, round(count / most * _BAR)) if count else 0)
        say_line(console, f"  {low:>10.5g} {mark} {bar} {count or ''}".rstrip())
