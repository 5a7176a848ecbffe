"""From what was typed after `handsfree bench` to a live session."""

from __future__ import annotations

import argparse
import sys
from dataclasses import replace
from pathlib import Path

from handsfree.commands.benching import BenchOptions, run_display, run_plain, say_once
from handsfree.commands.kept_options import facts_of, sounds_of
from handsfree.commands.recogniser_options import adaptation_of
from handsfree.commands.table import show_log
from handsfree.errors import JournalError
from handsfree.hear.ears import Choice
from handsfree.live.first_plan import plan_text, questions, write_plan
from handsfree.live.places import journal_beside
from handsfree.plan import Plan, load_plan
from handsfree.record import Journal, Session
from handsfree.speak import Verbosity, VoiceSettings, Wording


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
    where = options.plan or _first_plan(chosen, options)
    plan = load_plan(where)
    path = options.journal or journal_beside(where)
    try:
        journal = Journal.open(path)
    except JournalError:
        say_once(Wording().trouble("no_journal"), chosen)  # whoever stands at the vice doesn't look
        raise
    with journal:
        kept = replace(chosen, facts=facts_of(options), sounds=sounds_of(journal, options))
        session = _run(plan, journal, kept, options)
    show_log(session)
    print(f"The log is in {path}")
    return 0


def _first_plan(chosen: BenchOptions, options: argparse.Namespace) -> Path:
    """Ask for what a plan needs, by voice or key, and write it."""
    _line("No plan was named, so here are five questions: cylinders, rings, the two targets and how much")
    _line("more is allowed. Say or key a number to each, then finish, then yes.")
    with Journal.in_memory() as journal:
        session = _run(questions(), journal, replace(chosen, cautions=False), options)
    path = write_plan(plan_text(session), Path.cwd())
    _line(f"The plan is in {path}; the ring maker's figures come first: check it against theirs.")
    return path


def _run(plan: Plan, journal: Journal, chosen: BenchOptions, options: argparse.Namespace) -> Session:
    if options.plain or options.web or not sys.stdout.isatty():
        return run_plain(plan, journal, chosen, _line, options.web)
    return run_display(plan, journal, chosen)


def _line(text: str) -> None:
    print(text, flush=True)
