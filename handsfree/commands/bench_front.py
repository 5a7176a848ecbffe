"""From what was typed after `handsfree bench` to a live session."""

from __future__ import annotations

import argparse
import contextlib
import sys
from dataclasses import replace
from pathlib import Path

from handsfree.commands.benching import BenchOptions, run_display, run_plain, say_once
from handsfree.commands.kept_options import changed_plan_of, facts_of, sounds_of
from handsfree.commands.outputs import refuse_onto
from handsfree.commands.recogniser_options import adaptation_of
from handsfree.commands.table import show_log
from handsfree.ears import Choice
from handsfree.errors import JournalError
from handsfree.journal import Journal, open_to_go_on
from handsfree.live import plan_text, questions, write_plan
from handsfree.plan import Plan
from handsfree.planfile import load_plan
from handsfree.session import Session
from handsfree.show import Web
from handsfree.speak import Verbosity, VoiceSettings, Wording, journal_beside
from handsfree.visible import for_terminal


def bench_options(options: argparse.Namespace) -> BenchOptions:
    """Gather what was chosen."""
    voice = VoiceSettings(voice=options.voice)
    if options.rate:
        voice = VoiceSettings(voice=options.voice, words_per_minute=options.rate)
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
        verbosity=Verbosity(options.answers),
        voice=voice,
        volume=options.volume,
        timings=options.timings,
    )


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
        facts = {**facts_of(options), **opened.facts}
        kept = replace(
            chosen, facts=facts, sounds=sounds_of(journal, options), changed_plan=changed_plan_of(options)
        )
        session = _run(plan, journal, kept, options, web)
        show_log(session)  # before the journal is closed: so it is seen even where that fails
    print(for_terminal(f"The log is in {opened.journal.path if opened.instead else path}"))
    return 0


def _first_plan(chosen: BenchOptions, options: argparse.Namespace, web: Web | None) -> Path:
    """Ask for what a plan needs, by voice or key, and write it."""
    _line("No plan was named, so here are five questions: cylinders, rings, the two targets and how much")
    _line("more is allowed. Say or key a number to each, then finish, then affirm.")
    with Journal.in_memory() as journal:
        session = _run(questions(), journal, replace(chosen, cautions=False), options, web)
    path = write_plan(plan_text(session), Path.cwd())
    _line(f"The plan is in {path}; the ring maker's figures come first: check it against theirs.")
    return path


def _run(
    plan: Plan,
    journal: Journal,
    chosen: BenchOptions,
    options: argparse.Namespace,
    web: Web | None,
) -> Session:
    if options.plain or options.web or not sys.stdout.isatty():
        return run_plain(plan, journal, chosen, _line, web)
    return run_display(plan, journal, chosen)


def _line(text: str) -> None:
    print(for_terminal(text), flush=True)
