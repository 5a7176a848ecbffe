"""`handsfree bench`: a live session with microphone, keypad, voice and display."""

from __future__ import annotations

import argparse
import contextlib
import os
import queue
import signal
import sys
import threading
from collections.abc import Callable, Iterator
from dataclasses import replace
from datetime import datetime
from pathlib import Path
from typing import TYPE_CHECKING

from handsfree.bench import Bench, Exchange
from handsfree.commands.options import (
    DONE,
    adaptation_of,
    add_kept_options,
    add_recogniser,
    changed_plan_of,
    facts_of,
    fraction,
    rate,
    sounds_of,
)
from handsfree.commands.outputs import print_line, refuse_onto
from handsfree.commands.printing import show_log
from handsfree.devices import NumberPad, TerminalKeys
from handsfree.ears import Choice
from handsfree.errors import GONE, JournalError
from handsfree.hear import VoiceModel
from handsfree.journal import Journal, open_to_go_on
from handsfree.live import Interview, LiveEvent, LiveState, Quit, plan_name, plan_text, questions, write_plan
from handsfree.page import BenchPage, Site
from handsfree.plan import Plan
from handsfree.planfile import load_plan
from handsfree.preferences import STYLES, Preferences, load_preferences, save_preferences
from handsfree.session import Session
from handsfree.show import change_lines, exchange_lines
from handsfree.speak import (
    TERSE_WORDS_PER_MINUTE,
    WORDS_PER_MINUTE,
    Verbosity,
    Wording,
    journal_beside,
    named_voice,
)
from handsfree.streams import ended_by_signals, terminal_gone
from handsfree.wiring import BenchOptions, Live, say_once

if TYPE_CHECKING:
    from handsfree.adapt import People

WEB = "127.0.0.1:8123"
"""Default address of `--web`: this machine only."""

VOLUME = 0.8
"""Default volume, of full scale: loud speech over loud tools harms hearing."""

_LOOK_EVERY_S = 0.5  # interval of checking that the terminal is still there


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Add the arguments of `handsfree bench`."""
    parser.add_argument(
        "plan", type=Path, nargs="?", metavar="PLAN", help="not given: make one by voice or key"
    )
    add_recogniser(parser)
    parser.add_argument(
        "--journal", type=Path, metavar="FILE", help="the log (beside the plan: PLAN.journal)"
    )
    add_kept_options(parser)
    parser.add_argument("--device", metavar="NAME", help="microphone: number or part of its name")
    parser.add_argument("--output", metavar="NAME", help="loudspeaker: number or part of its name")
    parser.add_argument("--plain", action="store_true", help="lines of text instead of the display")
    parser.add_argument(
        "--web",
        nargs="?",
        const=WEB,
        metavar="HOST:PORT",
        help=f"the bench in a browser ({WEB}, this machine only, if nothing else is said)",
    )
    parser.add_argument(
        "--page-sound", action="store_true", help="with --web: microphone and voice in the browser alone"
    )
    parser.add_argument("--headset", action="store_true", help="listen while speaking; speech stops it")
    parser.add_argument("--silent", action="store_true", help="no voice and no tones")
    parser.add_argument(
        "--any-voice",
        action="store_true",
        help="treat all voices alike; learn nothing of the voice that --who names",
    )
    parser.add_argument("--no-microphone", action="store_true", help="keys alone")
    parser.add_argument(
        "--answers",
        choices=STYLES,
        help="how much is said (normal, unless the page's settings say otherwise)",
    )
    parser.add_argument(
        "--rate",
        type=rate,
        metavar="WPM",
        help="words a minute of the voice (180, in terse answers 195); kept for the next sessions",
    )
    parser.add_argument(
        "--voice",
        metavar="NAME",
        help="a voice of espeak (en-us), or the system's own: sapi5 on Windows, nsss on macOS, with :NAME "
        "for one of its voices",
    )
    parser.add_argument(
        "--volume",
        type=fraction,
        metavar="0..1",
        help="no louder than this (0.8); kept for the next sessions",
    )
    parser.add_argument("--timings", type=Path, metavar="FILE", help="write where each answer's time went")
    parser.set_defaults(run=run)


def bench_options(options: argparse.Namespace) -> BenchOptions:
    """Collect the chosen options."""
    kept = _kept(options)
    verbosity = Verbosity(options.answers or kept.answers or Verbosity.NORMAL)
    usual = TERSE_WORDS_PER_MINUTE if verbosity is Verbosity.TERSE else WORDS_PER_MINUTE
    voice = replace(named_voice(options.voice), words_per_minute=kept.words_per_minute or usual)
    return BenchOptions(
        recogniser=Choice(options.recogniser),
        model=options.model,
        encoder=options.encoder,
        adaptation=adaptation_of(options),
        people=people_of(options),
        device=options.device,
        output=options.output,
        headset=options.headset,
        silent=options.silent,
        deaf=options.no_microphone,
        web=options.web is not None,
        page_sound=options.page_sound and options.web is not None,
        verbosity=verbosity,
        voice=voice,
        volume=VOLUME if kept.volume is None else kept.volume,
        timings=options.timings,
    )


def people_of(options: argparse.Namespace) -> People | None:
    """Return the people whose voices are known; None without a name or a rehearsal, or if switched off.

    Without a name nothing new is learned of anybody who didn't rehearse.
    """
    if options.any_voice or options.no_microphone:
        return None
    from handsfree.adapt import ME, People, load_voices, voices_path

    known = load_voices()
    if not options.who and ME not in known:
        return None
    return People(options.who or ME, VoiceModel(), known, voices_path())


def _kept(options: argparse.Namespace) -> Preferences:
    """Return the user's preferences from now or an earlier session, and save those set now."""
    kept = load_preferences()
    now = replace(
        kept,
        words_per_minute=options.rate or kept.words_per_minute,
        volume=kept.volume if options.volume is None else options.volume,
    )
    if now != kept:
        save_preferences(now)
    return now


def run(options: argparse.Namespace) -> int:
    """Run a live session and show its log at the end; 0 when it ended in good order."""
    chosen = bench_options(options)
    plan = None if options.plan is None else load_plan(options.plan)
    with contextlib.ExitStack() as around:
        # before anything is written: an unusable address must leave no trace in the journal
        page = around.enter_context(_served(options.web)) if options.web else None
        work(chosen, plan, options, page)
    return DONE


@contextlib.contextmanager
def _served(where: str) -> Iterator[BenchPage]:
    """Serve the bench's page at an address, and print how each browser gets in."""

    def announce(word: str) -> None:
        with contextlib.suppress(OSError):  # nobody reads; the bench notices that by itself
            for line in site.invitation(word, drawn=sys.stdout.isatty()):
                print_line(line)

    with contextlib.closing(Site(where)) as site:
        page = BenchPage(site)
        with site.serve(announce):
            yield page


def work(
    chosen: BenchOptions,
    plan: Plan | None,
    options: argparse.Namespace,
    page: BenchPage | None,
    events: queue.SimpleQueue[LiveEvent] | None = None,
) -> Session:
    """Run a session on its journal and show its log at the end; without a plan, make one first.

    page: shows it in browsers. events: its queue, for whoever wants to end it.
    """
    where = options.plan
    if plan is None:
        where = _first_plan(chosen, options, page)
        plan = load_plan(where)
    path = options.journal or journal_beside(where)
    if options.timings is not None:
        refuse_onto(options.timings, [where, path])
    try:
        opened = open_to_go_on(path)
    except JournalError:
        say_once(Wording().trouble("no_journal"), chosen)  # the user at the vice doesn't look
        raise
    for report in opened.reports:
        print_line(report)
    if opened.instead:
        say_once(Wording().trouble("journal_damaged"), chosen)
    elif opened.reports:
        say_once(Wording().trouble("kept_damaged"), chosen)
    with opened.journal as journal:
        kept = replace(
            chosen,
            facts={**facts_of(options), **opened.facts},
            sounds=sounds_of(journal, options),
            changed_plan=changed_plan_of(options),
            cautioned=_told_today(journal, plan, options),
        )
        session = _run(plan, journal, kept, options, page, events=events)
        show_log(session)  # before the journal is closed, so that it is shown even if that fails
    print_line(f"The log is in {opened.journal.path if opened.instead else path}")
    return session


def _told_today(journal: Journal, plan: Plan, options: argparse.Namespace) -> bool:
    """Return whether this person heard this plan's cautions today, and note that they have now."""
    if journal.events():
        return False
    kept, who, today = load_preferences(), options.who or "", datetime.now().astimezone().date()
    told = kept.cautioned(who, plan.name, today)
    if not told:
        save_preferences(kept.with_told(who, plan.name, today))
    return told


def _first_plan(chosen: BenchOptions, options: argparse.Namespace, page: BenchPage | None) -> Path:
    """Ask the questions of a first plan, by voice or key, and write it."""
    print_line("No plan was named, so a first one is made by asking. Say or key a number to each question.")
    with Journal.in_memory() as journal:
        session = _run(
            questions(), journal, replace(chosen, cautions=False, people=None), options, page, Interview
        )
    path = write_plan(plan_text(session), Path.cwd(), plan_name(session))
    print_line(f"The plan is in {path}; the ring maker's figures come first: check it against theirs.")
    return path


def _run(
    plan: Plan,
    journal: Journal,
    chosen: BenchOptions,
    options: argparse.Namespace,
    page: BenchPage | None,
    kind: type[Bench] = Bench,
    events: queue.SimpleQueue[LiveEvent] | None = None,
) -> Session:
    if options.plain or options.web or not sys.stdout.isatty():
        return run_plain(plan, journal, chosen, print_line, page, kind, events)
    return run_display(plan, journal, chosen, kind)


class _Around:
    """The surroundings of a bench in plain lines: keys from standard input, and a reader of its output.

    Args:
        events: the bench's queue.
        out: takes a line; a failure means that the reader has gone.
        alone: standard input is the only source: the bench ends at its end. If it was empty there
            may still be a number pad.
    """

    def __init__(
        self, events: queue.SimpleQueue[LiveEvent], out: Callable[[str], object], *, alone: bool
    ) -> None:
        self._events = events
        self._out = out
        self._alone = alone
        self._over = threading.Event()
        # the end of an input pipe ends the keys; a closed terminal or output pipe ends the session
        self._watched = [file for file in (0, 1) if _is_open(file) and (file == 1 or os.isatty(file))]
        self.keys: TerminalKeys | None = None

    def __enter__(self) -> _Around:
        with contextlib.suppress(OSError, ValueError, ImportError):  # no input: microphone and pad alone
            keys = TerminalKeys(self._events.put, ended=self._typed_all, waiting=self._events.qsize)
            keys.start()
            self.keys = keys
        threading.Thread(target=self._watch, name="terminal", daemon=True).start()
        return self

    def __exit__(self, *exc: object) -> None:
        self._over.set()
        if self.keys is not None:
            self.keys.stop()

    def line(self, text: str) -> None:
        """Print a line."""
        try:
            self._out(text)
        except OSError as fault:
            if fault.errno in GONE:
                self._events.put(Quit())
            # a full disk or the like is no reason to end a session that goes on by ear

    def _typed_all(self) -> None:
        if self.keys is not None and self.keys.is_terminal:
            self._events.put(Quit())
        elif self._alone and ((self.keys is not None and self.keys.brought) or not _has_number_pad()):
            self._events.put(Quit(hush=False))

    def _watch(self) -> None:
        while self._watched and not self._over.wait(_LOOK_EVERY_S):
            if terminal_gone(*self._watched):
                self._events.put(Quit())
                return


def _has_number_pad() -> bool:
    """Return whether a readable number pad is plugged in."""
    try:
        pads = NumberPad(lambda _: None).pads()
    except ImportError:
        return False
    for pad in pads:
        pad.close()
    return bool(pads)


def _is_open(file: int) -> bool:
    """Return whether a standard stream exists: Python has none if it was closed from the start."""
    return (sys.stdin, sys.stdout)[file] is not None


def _stopped(journal: Journal) -> str:
    """Say at the end where the log is kept."""
    if not journal.retry():
        return f"stopped; not all that was answered is in the journal: {journal.trouble}"
    return "stopped" if journal.path is None else "stopped; everything answered is in the journal"


def run_plain(
    plan: Plan,
    journal: Journal,
    options: BenchOptions,
    out: Callable[[str], object],
    page: BenchPage | None = None,
    kind: type[Bench] = Bench,
    events: queue.SimpleQueue[LiveEvent] | None = None,
) -> Session:
    """Run a session with lines of plain text; keys come from the terminal or a pipe.

    page: shows it in browsers, too. kind: the class of the session. events: its queue.
    """
    events = queue.SimpleQueue() if events is None else events
    around = _Around(events, out, alone=options.deaf and page is None)

    def told(before: LiveState, after: LiveState, exchange: Exchange | None) -> None:
        if page is not None:
            page.nudge()
        for line in [*(exchange_lines(exchange) if exchange else []), *change_lines(before, after)]:
            around.line(line)

    with contextlib.ExitStack() as ending:
        came = ending.enter_context(ended_by_signals(lambda: events.put(Quit())))
        ending.enter_context(around)  # first: keys typed from now on are accepted
        live = Live(plan, journal, options, told, events, kind)
        ending.callback(live.close)
        try:
            if page is not None:
                ending.enter_context(page.show(live.desk()))
            live.loop.run()
            if signal.SIGINT in came:
                around.line(_stopped(journal))
        except KeyboardInterrupt:
            around.line(_stopped(journal))
    return live.bench.session


def run_display(plan: Plan, journal: Journal, options: BenchOptions, kind: type[Bench] = Bench) -> Session:
    """Run a session with the display; kind: the class of the session."""
    from handsfree.show.display import Board

    boards: list[Board] = []

    def told(before: LiveState, after: LiveState, exchange: Exchange | None) -> None:
        if after != before or exchange is not None:
            for board in boards:
                board.nudge()

    live = Live(plan, journal, options, told, kind=kind)
    board = Board(live.latest, live.press, live.leave, over=terminal_gone, nudged=True)
    boards.append(board)

    def work() -> None:
        try:
            live.loop.run()
        finally:
            with contextlib.suppress(RuntimeError):  # the display may have closed first
                board.call_from_thread(board.exit)

    thread = threading.Thread(target=work, name="bench", daemon=True)
    try:
        with ended_by_signals(live.leave):
            thread.start()
            board.run()
    finally:
        live.leave()
        thread.join(timeout=3)
        live.close()
    return live.bench.session
