"""`handsfree journal list|show|compare|stats|verify`: looking back at what was logged."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import date, timedelta
from itertools import groupby
from pathlib import Path
from textwrap import TextWrapper

from rich import box
from rich.console import Console
from rich.table import Table
from rich.text import Text

from handsfree.commands.outputs import refuse_onto, write_output
from handsfree.errors import HandsfreeError, JournalError
from handsfree.export import (
    CAUTION,
    Capability,
    Sample,
    Summary,
    bins,
    capability,
    catalogue,
    facts,
    find,
    plot,
    samples,
)
from handsfree.export import compare as pairs_of
from handsfree.journal import Journal
from handsfree.journal import verify as check_chain
from handsfree.session import Entry, Recorded, Result, Session, State, entry_text, read, results
from handsfree.visible import one_line

HOLDS, BROKEN = 0, 1
_FAULTS_SHOWN = 20
_BAR = 40
_LONGEST = 200
_INDENT = 17


def list_journals(
    places: Sequence[Path],
    console: Console,
    *,
    engine: str | None = None,
    since: date | None = None,
    until: date | None = None,
) -> None:
    """Print the journals in these files and folders, the oldest first.

    Raises:
        JournalError: a named place isn't there.
    """
    found, unreadable = catalogue(places, engine=engine, since=since, until=until)
    for summary in found:
        for line in _listed(summary):
            say_line(console, line)
    if not found:
        say_line(console, "No journals found.")
    for one in unreadable:
        say_line(console, f"not read: {one.sentence}")


def _listed(summary: Summary) -> tuple[str, str]:
    when = summary.began.strftime("%Y-%m-%d %H:%M")
    state = "finished" if summary.finished else "open"
    who = f", {summary.who}" if summary.who else ""
    verdicts = ", ".join(f"{count} {verdict}" for verdict, count in sorted(summary.verdicts.items()))
    done = f"{summary.done} of {summary.places} done" + (f" ({verdicts})" if verdicts else "")
    return (
        f"{summary.path.name}: {when}, {_duration(summary.lasted)}{who}, {state}",
        f"    {summary.engine}: {done}",
    )


def show(path: Path, console: Console, *, log: bool = False) -> None:
    """Print a session: every item with target, reading, verdict and the work it took.

    Args:
        path: the journal.
        console: where to.
        log: whether to print every entry as well, with what was heard and what became of it.

    Raises:
        HandsfreeError: it can't be read.
    """
    recorded = read(path)
    session = recorded.session
    began = recorded.began.local.strftime("%Y-%m-%d %H:%M")
    say_line(console, recorded.engine)
    say_line(console, session.plan.name)
    who = f", by {recorded.fact('who')}" if recorded.fact("who") else ""
    lasted = _duration(recorded.ended - recorded.began.at)
    say_line(console, f"{began}, {lasted}{who}, {'finished' if session.finished else 'open'}")
    for check, found in groupby(results(session, recorded.events), key=lambda result: result.check.name):
        say_line(console, f"\n{check}")
        table = _table("position", "target", "reading", "verdict", "tries", "work")
        for result in found:
            _add(table, result.item.key, *_result(result))
        console.print(table)
    if log:
        _show_log(session, console)
    say_line(console, f"{len(recorded.events)} events; the hash of the last:\n{recorded.head}")


def _result(result: Result) -> tuple[str, ...]:
    return (
        result.limits,
        result.text,
        result.verdict or "",
        str(result.tries or ""),
        "" if result.work is None else _duration(result.work),
    )


def _show_log(session: Session, console: Console) -> None:
    """Print every entry: what was logged, what became of it, and how it was heard."""
    numbers = {entry.event.id: entry.event.seq for entry in session.log()}
    for check, entries in groupby(session.log(), key=lambda entry: entry.check):
        say_line(console, f"\nlog: {check}")
        for entry in entries:
            _say_wrapped(console, _logged(entry, numbers))
            _say_wrapped(console, f"{'':{_INDENT}}{_came_in(entry)}")
    say_line(console, "")


def _logged(entry: Entry, numbers: Mapping[str, int]) -> str:
    event = entry.event
    became = "" if entry.state is State.STANDS else f" ({entry.state.value})"
    told = f"{event.seq:>5}  {event.local:%H:%M:%S}  {entry.position.key}: {entry_text(entry)}{became}"
    if event.draft.refers_to is not None and event.draft.refers_to in numbers:
        told += f", corrects no. {numbers[event.draft.refers_to]}"
    return told


def _came_in(entry: Entry) -> str:
    heard = entry.event.draft.heard
    if heard is None:
        return "nothing is known of how it came in"
    if heard.source == "keypad":
        return f"keyed {heard.words}"
    told = f'heard "{heard.words}"'
    told += "" if heard.fit is None else f", fit {heard.fit:.2f}"
    told += "" if heard.margin is None else f", margin {heard.margin:.1f}"
    return told + (", sound kept" if heard.sound else "")


def compare(before: Path, after: Path, console: Console) -> None:
    """Print two sessions side by side, item by item, with the change.

    Raises:
        HandsfreeError: one of them can't be read.
    """
    earlier, later = read(before), read(after)
    for name, one in (("before", earlier), ("after", later)):
        when = one.began.local.strftime("%Y-%m-%d %H:%M")
        say_line(console, f"{name}: {one.engine}, {when} ({one.path.name})")
    if earlier.engine != later.engine:
        say_line(console, "These are two different engines by their names.")
    for check, pairs in groupby(pairs_of(earlier, later), key=lambda pair: pair.check):
        say_line(console, f"\n{check}")
        table = _table("position", "before", "after", "change", "work")
        for pair in pairs:
            change = pair.change
            sign = "+" if change is not None and change.value > 0 else ""
            work = [_duration(one.work) for one in (pair.before, pair.after) if one and one.work is not None]
            _add(
                table,
                pair.item.key,
                _judged(pair.before),
                _judged(pair.after),
                "" if change is None else f"{sign}{change}",
                ", then ".join(work),
            )
        console.print(table)


def _judged(result: Result | None) -> str:
    if result is None or not result.text:
        return ""
    return f"{result.text}, {result.verdict}" if result.verdict else result.text


def statistics(
    places: Sequence[Path],
    console: Console,
    *,
    check: str | None = None,
    engine: str | None = None,
    confidence: float = 0.95,
    plot_to: Path | None = None,
) -> None:
    """Print mean, spread, Cp and Cpk of each check over many journals, as table and bars.

    Args:
        places: journals and folders.
        console: where to.
        check: only the check of this name.
        engine: only engines whose name holds this.
        confidence: of the intervals, between 0 and 1.
        plot_to: also draw them into this file, PDF or SVG by its ending.

    Raises:
        HandsfreeError: there is nothing to reckon with, or the plot can't be made.
    """
    if not 0 < confidence < 1:
        raise HandsfreeError(
            f"A confidence of {confidence} makes no sense; give one between 0 and 1, such as 0.95."
        )
    if plot_to is not None:
        refuse_onto(plot_to, places)  # before anything is reckoned
    read_ones, unreadable = _readable(places, engine)
    gathered = [(one, capability(one.values, one.limits, confidence)) for one in samples(read_ones, check)]
    if not gathered:
        raise JournalError(
            "There is nothing to reckon with: no check with limits was measured in these journals."
        )
    for sample, found in gathered:
        say_line(console, f"\n{sample.name} ({sample.unit})")
        table = Table(box=None, pad_edge=False, show_header=False)
        pairs = facts(sample, found)
        for left, right in zip(pairs[::2], pairs[1::2], strict=True):
            _add(table, *left, *right)
        console.print(table)
        _bars(sample, found, console)
    say_line(console, f"\n{CAUTION}")
    for sentence in unreadable:
        say_line(console, f"not read: {sentence}")
    if plot_to is not None:
        drawn = plot(gathered, plot_to.suffix.removeprefix(".").lower() or "pdf")
        write_output(plot_to, drawn, [one.path for one in read_ones])


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
    """Leave out copies: of journals with the same first event, the longest counts."""
    longest: dict[str, Recorded] = {}
    for one in sorted(found, key=lambda one: -len(one.events)):
        kept = longest.setdefault(one.began.id, one)
        if kept is not one:
            unread.append(f"{one.path} is a copy of {kept.path}, which is as long or longer.")
    return [one for one in found if longest[one.began.id] is one]


def _bars(sample: Sample, found: Capability, console: Console) -> None:
    """Draw how often each size was found; L and U mark the bins that hold the limits."""
    if not found.n:
        return
    counted = bins(sample.values, sample.limits)
    most = max(count for _, _, count in counted)
    lower, upper = sample.limits
    for low, high, count in counted:
        mark = ("L" if low <= lower < high else " ") + ("U" if low <= upper < high else " ")
        bar = "#" * (max(1, round(count / most * _BAR)) if count else 0)
        say_line(console, f"  {low:>10.5g} {mark} {bar} {count or ''}".rstrip())


def verify(path: Path, console: Console, *, expected: str | None = None) -> int:
    """Print whether a journal is as it was written; gives 0 if it is, 1 if anything was altered.

    Args:
        path: the journal.
        console: where to.
        expected: a hash from a build sheet or the shop's database that it must still hold.

    Raises:
        JournalError: it can't be opened.
    """
    found = check_chain(path, expected=expected)
    if found.holds:
        say_line(console, f"{path}: all {found.events} events are as they were logged.")
        if expected:
            say_line(console, "The hash that you gave is one of them.")
        elif found.noted is not None:
            say_line(console, f"Its end wasn't cut off: what is noted beside it goes to event {found.noted}.")
        else:
            say_line(
                console, "Whether its end was cut off can only be seen with a hash kept elsewhere (--hash)."
            )
        say_line(console, f"Hash of the last event: {found.head}")
        with Journal.open(path, read_only=True) as journal:
            if journal.unsaved:
                events = "1 event more is" if journal.unsaved == 1 else f"{journal.unsaved} events more are"
                say_line(console, f"{events} kept elsewhere until the journal is next opened for writing.")
        return HOLDS
    for fault in found.faults[:_FAULTS_SHOWN]:
        say_line(console, fault.sentence)
    if len(found.faults) > _FAULTS_SHOWN:
        say_line(console, f"and {len(found.faults) - _FAULTS_SHOWN} more.")
    say_line(console, f"{path}: {found.events} events, not as they were logged.")
    return BROKEN


def _table(*names: str) -> Table:
    table = Table(box=box.SIMPLE_HEAD, pad_edge=False)
    for name in names:
        table.add_column(name, overflow="fold")  # on a narrow screen nothing is cut off
    return table


def _add(table: Table, *cells: str) -> None:
    """Add a row of plain text: a name in square brackets is not markup."""
    table.add_row(*(Text(one_line(cell, _LONGEST)) for cell in cells))


def say_line(console: Console, line: str) -> None:
    """Print lines as they are: no markup, no control signs."""
    for part in line.split("\n"):
        console.print(Text(one_line(part, 2000)), soft_wrap=True)


def _say_wrapped(console: Console, line: str) -> None:
    """Print a line of the log, with what doesn't fit on the screen under its text."""
    wrapper = TextWrapper(max(console.width, 2 * _INDENT), subsequent_indent=" " * _INDENT)
    for part in wrapper.wrap(one_line(line, 2000)):
        console.print(Text(part))


def _duration(lasted: timedelta) -> str:
    """Write how long something took: 45 s, 12 min, 2 h 05 min.

    >>> _duration(timedelta(seconds=45)), _duration(timedelta(minutes=125))
    ('45 s', '2 h 05 min')
    """
    seconds = round(lasted.total_seconds())
    if seconds < 60:
        return f"{seconds} s"
    hours, minutes = divmod(round(seconds / 60), 60)
    return f"{hours} h {minutes:02} min" if hours else f"{minutes} min"
