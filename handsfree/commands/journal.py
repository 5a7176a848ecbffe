"""`handsfree journal list|show|compare|stats|verify|play`: review logged sessions."""

from __future__ import annotations

import argparse
from collections.abc import Mapping, Sequence
from datetime import date
from itertools import groupby
from pathlib import Path
from typing import TYPE_CHECKING

from rich.console import Console

from handsfree.commands.options import DONE, add_journal, add_places
from handsfree.commands.outputs import write_output
from handsfree.commands.printing import INDENT, add_row, duration, plain_table, say_line, say_wrapped
from handsfree.errors import JournalError
from handsfree.export import Summary, catalogue
from handsfree.export import compare as pairs_of
from handsfree.journal import SAMPLERATE_HZ, Event, Journal, Sounds
from handsfree.journal import verify as check_chain
from handsfree.session import Entry, Fate, Recorded, Result, Session, entry_text, length_text, read, results

if TYPE_CHECKING:
    from handsfree.devices import Player

HOLDS, BROKEN = 0, 1
_FAULTS_SHOWN = 20


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Add `handsfree journal`'s own commands."""
    actions = parser.add_subparsers(required=True, metavar="ACTION")

    listing = actions.add_parser("list", help="the journals in files and folders, the oldest first")
    add_places(listing)
    listing.add_argument("--engine", metavar="NAME", help="only engines or plans whose name holds this")
    listing.add_argument(
        "--since", type=date.fromisoformat, metavar="DAY", help="from this day on: 2026-11-25"
    )
    listing.add_argument("--until", type=date.fromisoformat, metavar="DAY", help="up to this day")
    listing.set_defaults(run=run_list)

    show = actions.add_parser("show", help="what a session came to, and the work it took")
    add_journal(show)
    show.add_argument("--log", action="store_true", help="every entry too, with what was heard")
    show.set_defaults(run=run_show)

    compare = actions.add_parser("compare", help="two sessions side by side: the engine before and after")
    compare.add_argument("before", type=Path, metavar="BEFORE", help="the earlier journal")
    compare.add_argument("after", type=Path, metavar="AFTER", help="the later journal")
    compare.set_defaults(run=run_compare)

    stats = actions.add_parser(
        "stats", help="mean, spread, Cp and Cpk of checks over many journals, and how your voice was heard"
    )
    add_places(stats)
    stats.add_argument("--check", metavar="NAME", help="only this check")
    stats.add_argument("--engine", metavar="NAME", help="only engines whose name holds this")
    stats.add_argument(
        "--confidence", type=float, default=0.95, metavar="0..1", help="of the intervals (0.95)"
    )
    stats.add_argument("--plot", type=Path, metavar="FILE", help="draw them too, into a PDF or SVG")
    stats.set_defaults(run=run_stats)

    verify = actions.add_parser("verify", help="whether anything was altered, removed or moved: 0 or 1")
    add_journal(verify)
    verify.add_argument("--hash", metavar="HASH", help="from a build sheet: the journal must still hold it")
    verify.set_defaults(run=run_verify)

    play = actions.add_parser("play", help="play the kept sound of an event")
    add_journal(play)
    play.add_argument("number", type=int, metavar="N", help="as `show --log` gives it")
    play.add_argument("--out", type=Path, metavar="FILE", help="save it as FLAC instead")
    play.set_defaults(run=run_play)


def run_list(options: argparse.Namespace) -> int:
    """List journals."""
    list_journals(options.places, Console(), engine=options.engine, since=options.since, until=options.until)
    return DONE


def run_show(options: argparse.Namespace) -> int:
    """Show a journal."""
    show(options.journal, Console(), log=options.log)
    return DONE


def run_compare(options: argparse.Namespace) -> int:
    """Compare two journals."""
    compare(options.before, options.after, Console())
    return DONE


def run_stats(options: argparse.Namespace) -> int:
    """Compute statistics over many journals."""
    from handsfree.commands.journal_stats import statistics  # here: the others need no statistics

    statistics(
        options.places,
        Console(),
        check=options.check,
        engine=options.engine,
        confidence=options.confidence,
        plot_to=options.plot,
    )
    return DONE


def run_verify(options: argparse.Namespace) -> int:
    """Verify a journal: 0 if it is intact, 1 if not."""
    return verify(options.journal, Console(), expected=options.hash)


def run_play(options: argparse.Namespace) -> int:
    """Play or save a sound."""
    from handsfree.devices import SoundPlayer  # here: the others need no loudspeaker

    player = None if options.out else SoundPlayer()
    try:
        play(options.journal, options.number, Console(), player, out=options.out)
    finally:
        if player is not None:
            player.close()
    return DONE


def list_journals(
    places: Sequence[Path],
    console: Console,
    *,
    engine: str | None = None,
    since: date | None = None,
    until: date | None = None,
) -> None:
    """Print the journals in these files and folders, oldest first.

    Raises:
        JournalError: a file or folder doesn't exist.
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
    return (
        f"{summary.path.name}: {when}, {duration(summary.lasted)}{who}, {state}",
        f"    {summary.engine}: {summary.standing}",
    )


def show(path: Path, console: Console, *, log: bool = False) -> None:
    """Print a session: every item with target, reading, verdict and the work done.

    Args:
        path: the journal.
        console: the output.
        log: print every entry too, with the words heard and its current state.

    Raises:
        HandsfreeError: it can't be read.
    """
    recorded = read(path)
    session = recorded.session
    began = recorded.began.local.strftime("%Y-%m-%d %H:%M")
    say_line(console, recorded.engine)
    say_line(console, session.plan.name)
    who = f", by {recorded.fact('who')}" if recorded.fact("who") else ""
    lasted = duration(recorded.ended - recorded.began.at)
    say_line(console, f"{began}, {lasted}{who}, {'finished' if session.finished else 'open'}")
    for check, found in groupby(results(session, recorded.events), key=lambda result: result.check.name):
        say_line(console, f"\n{check}")
        table = plain_table("position", "target", "reading", "verdict", "tries", "work")
        for result in found:
            add_row(table, result.item.key, *_result(result))
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
        "" if result.work is None else duration(result.work),
    )


def _show_log(session: Session, console: Console) -> None:
    """Print every entry: its content, its current state, and the words heard."""
    numbers = {entry.event.id: entry.event.seq for entry in session.log()}
    for check, entries in groupby(session.log(), key=lambda entry: entry.check):
        say_line(console, f"\nlog: {check}")
        for entry in entries:
            say_wrapped(console, _logged(entry, numbers))
            say_wrapped(console, f"{'':{INDENT}}{_came_in(entry)}")
    say_line(console, "")


def _logged(entry: Entry, numbers: Mapping[str, int]) -> str:
    event = entry.event
    became = "" if entry.state is Fate.STANDS else f" ({entry.state.value})"
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
        table = plain_table("position", "before", "after", "change", "work")
        for pair in pairs:
            change = pair.change
            sign = "+" if change is not None and change.value > 0 else ""
            work = [duration(one.work) for one in (pair.before, pair.after) if one and one.work is not None]
            add_row(
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


def verify(path: Path, console: Console, *, expected: str | None = None) -> int:
    """Print whether a journal is as it was written; return 0 if it is, 1 if anything was altered.

    Args:
        path: the journal.
        console: the output.
        expected: a hash from a build sheet or the shop's database that it must contain.

    Raises:
        JournalError: it can't be opened.
    """
    holds, lines = verified(path, expected=expected)
    for line in lines:
        say_line(console, line)
    return HOLDS if holds else BROKEN


def verified(path: Path, *, expected: str | None = None) -> tuple[bool, list[str]]:
    """Return whether a journal is as it was written, and the sentences that say so; as `verify`."""
    found = check_chain(path, expected=expected)
    if not found.holds:
        lines = [fault.sentence for fault in found.faults[:_FAULTS_SHOWN]]
        if len(found.faults) > _FAULTS_SHOWN:
            lines.append(f"and {len(found.faults) - _FAULTS_SHOWN} more.")
        return False, [*lines, f"{path}: {found.events} events, not as they were logged."]
    lines = [f"{path}: all {found.events} events are as they were logged."]
    if expected:
        lines.append("The hash that you gave is one of them.")
    elif found.noted is not None:
        lines.append(f"Its end wasn't cut off: what is noted beside it goes to event {found.noted}.")
    else:
        lines.append("Whether its end was cut off can only be seen with a hash kept elsewhere (--hash).")
    lines.append(f"Hash of the last event: {found.head}")
    with Journal.open(path, read_only=True) as journal:
        if journal.unsaved:
            events = "1 event more is" if journal.unsaved == 1 else f"{journal.unsaved} events more are"
            lines.append(f"{events} kept elsewhere until the journal is next opened for writing.")
    return True, lines


def play(
    path: Path, number: int, console: Console, player: Player | None, *, out: Path | None = None
) -> None:
    """Play the sound of event `number`, and print the words heard and the entry.

    If the entry was the answer to a question, the utterance in question is played first: it has the
    size.

    Args:
        path: the journal.
        number: the event's number, as shown by `show --log`.
        console: the output.
        player: plays the sound; None if it is only saved.
        out: also save the last of these sounds to this file (FLAC).

    Raises:
        JournalError: there is no such event, or no sound of it.
        SoundError: it can't be played.
    """
    from handsfree.speak import Sound  # here: the others need no voice

    recorded = read(path)
    event = next((event for event in recorded.events if event.seq == number), None)
    if event is None:
        raise JournalError(f"The journal {path} has no event {number}; its last is {len(recorded.events)}.")
    spoken = [(one, _sound(one)) for one in _belonging(recorded, event)]
    kept = [(one, name) for one, name in spoken if name is not None]
    if not kept:
        raise JournalError(
            f"No sound was kept of event {number}; only sizes said by voice have one, if it is kept."
        )
    sounds = Sounds.beside(path.resolve())
    loaded = [(one, sounds.load(name)) for one, name in kept]
    for one, samples in loaded:
        words = one.draft.heard.words if one.draft.heard else ""
        say_line(console, f"{one.local:%Y-%m-%d %H:%M:%S}, {one.kind.value}, heard: {words}")
        if player is not None:
            player.play(Sound(samples, SAMPLERATE_HZ), words)
    if event.draft.value is not None:
        where = f"{event.draft.position.key}: " if event.draft.position else ""
        say_line(console, f"logged: {where}{length_text(event.draft)}")
    if out is not None:
        sound = sounds.path(kept[-1][1])
        write_output(out, sound.read_bytes(), [path, sound])


def _belonging(recorded: Recorded, event: Event) -> list[Event]:
    """Return the question that an event answered, if any, and the event."""
    question = recorded.question_before(event) if event.draft.value is not None else None
    return [event] if question is None else [question, event]


def _sound(event: Event) -> str | None:
    return event.draft.heard.sound if event.draft.heard else None
