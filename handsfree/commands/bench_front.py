"""From what was typed after `handsfree bench` to a live session."""

from __future__ import annotations

import argparse
import contextlib
import sys
from dataclasses import replace
from datetime import datetime
from pathlib import Path

from handsfree.bench import Bench
from handsfree.commands.benching import BenchOptions, run_display, run_plain, say_once
from handsfree.commands.kept_options import changed_plan_of, facts_of, sounds_of
from handsfree.commands.outputs import refuse_onto
from handsfree.commands.recogniser_options import adaptation_of
from handsfree.commands.table import show_log
from handsfree.commands.webbing import Web
from handsfree.errors import JournalError
from handsfree.hear.ears import Choice
from handsfree.live.first_plan import Interview, plan_name, plan_text, questions, write_plan
from handsfree.live.places import journal_beside
from handsfree.plan import Plan, load_plan
from handsfree.preferences import Preferences, load_preferences, save_preferences
from handsfree.record import Journal, Session, open_to_go_on
from handsfree.speak import Verbosity, VoiceSettings, Wording
from handsfree.speak.voice import TERSE_WORDS_PER_MINUTE, WORDS_PER_MINUTE
from handsfree.visible import for_terminal

VOLUME = 0.8
"""Of full scale, unless the person set another: loud speech over loud tools harms hearing."""


def bench_options(options: argparse.Namespace) -> BenchOptions:
    """Gather what was chosen."""
    verbosity, kept = Verbosity(options.answers), _kept(options)
    usual = TERSE_WORDS_PER_MINUTE if verbosity is Verbosity.TERSE else WORDS_PER_MINUTE
    voice = VoiceSettings(voice=options.voice, words_per_minute=kept.words_per_minute or usual)
    return BenchOptions(
        recogniser=Choice(options.recogniser),
        model=options.model,
        encoder=options.encoder,
        adaptation=adaptation_of(options),
        device=options.device,
        output=options.output,
        headset=options.headset,
        silent=options.silent,
        deaf=options.no_microphone,
        verbosity=verbosity,
        voice=voice,
        volume=VOLUME if kept.volume is None else kept.volume,
        timings=options.timings,
    )


def _kept(options: argparse.Namespace) -> Preferences:
    """What the person set, now or in an earlier session; what is set now is kept."""
    kept = load_preferences()
    now = replace(
        kept,
        words_per_minute=options.rate or kept.words_per_minute,
        volume=kept.volume if options.volume is None else options.volume,
    )
    if now != kept:
        save_preferences(now)
    return now


def run_bench(options: argparse.Namespace) -> int:
    """Run a live session and show its log at the end; 0 when it ended in good order."""
    chosen = bench_options(options)
    plan = None if options.plan is None else load_plan(options.plan)
    with contextlib.ExitStack() as around:
        # before anything is written: an address that can't be used must leave no trace in the journal
        web = around.enter_context(contextlib.closing(Web(options.web))) if options.web else None
        return _run_bench(chosen, plan, options, web)


def _run_bench(chosen: BenchOptions, plan: Plan | None, options: argparse.Namespace, web: Web | None) -> int:
    where = options.plan
    if plan is None:
        where = _first_plan(chosen, options, web)
        plan = load_plan(where)
    path = options.journal or journal_beside(where)
    if options.timings is not None:
        refuse_onto(options.timings, [where, path])
    try:
        opened = open_to_go_on(path)
    except JournalError:
        say_once(Wording().trouble("no_journal"), chosen)  # whoever stands at the vice doesn't look
        raise
    for report in opened.reports:
        _line(report)
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
        session = _run(plan, journal, kept, options, web)
        show_log(session)  # before the journal is closed: so it is seen even where that fails
    print(for_terminal(f"The log is in {opened.journal.path if opened.instead else path}"))
    return 0


def _told_today(journal: Journal, plan: Plan, options: argparse.Namespace) -> bool:
    """Tell whether this person was told this plan's cautions today; from now on it counts as told."""
    if journal.events():
        return False
    kept, who, today = load_preferences(), options.who or "", datetime.now().astimezone().date()
    told = kept.cautioned(who, plan.name, today)
    if not told:
        save_preferences(kept.with_told(who, plan.name, today))
    return told


def _first_plan(chosen: BenchOptions, options: argparse.Namespace, web: Web | None) -> Path:
    """Ask for what a plan needs, by voice or key, and write it."""
    _line("No plan was named, so a first one is made by asking. Say or key a number to each question.")
    with Journal.in_memory() as journal:
        session = _run(questions(), journal, replace(chosen, cautions=False), options, web, Interview)
    path = write_plan(plan_text(session), Path.cwd(), plan_name(session))
    _line(f"The plan is in {path}; the ring maker's figures come first: check it against theirs.")
    return path


def _run(
    plan: Plan,
    journal: Journal,
    chosen: BenchOptions,
    options: argparse.Namespace,
    web: Web | None,
    kind: type[Bench] = Bench,
) -> Session:
    if options.plain or options.web or not sys.stdout.isatty():
        return run_plain(plan, journal, chosen, _line, web, kind)
    return run_display(plan, journal, chosen, kind)


def _line(text: str) -> None:
    print(for_terminal(text), flush=True)
