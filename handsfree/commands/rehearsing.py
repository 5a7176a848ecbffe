"""`handsfree rehearse`: read phrases aloud, keep the recordings, and see what is confused."""

from __future__ import annotations

import argparse
import json
import shutil
import sys
from collections.abc import Callable, Iterator, Sequence
from contextlib import ExitStack, suppress
from dataclasses import dataclass, field, replace
from datetime import datetime
from pathlib import Path

import numpy as np

from handsfree.commands.plan_of_rows import PLAN_NAME
from handsfree.commands.recogniser_options import ears_of
from handsfree.commands.scoring import check_of, hear_whole, kept_rows, said_by
from handsfree.commands.takes import Take, Takes, Trouble, trouble_with
from handsfree.commands.voice_options import PHRASES
from handsfree.errors import ScoreError, SoundError
from handsfree.files import write_whole
from handsfree.hear import Samples, read_sound
from handsfree.hear.ears import Ear
from handsfree.manifest import NAME, Row
from handsfree.own import Confusion, confusions, not_read, phrases_to_read, rehearsal_folder, write_row
from handsfree.plan import Check, Plan, load_plan
from handsfree.record.sounds import flac
from handsfree.score import ASKED, IGNORED, RIGHT, WRONG, Condition, Scored, report, rows_of, scored_row
from handsfree.show.letters import banner
from handsfree.visible import for_terminal

DONE, STOPPED = 0, 130
_MOST_CONFUSIONS = 12  # that are told; a phrase that was misread gives many
_OUTCOMES = {RIGHT: "right", WRONG: "WRONG", ASKED: "you would be asked", IGNORED: "not understood"}


@dataclass
class Rehearsal:
    """A rehearsal at work: its folder, and the recordings so far.

    out: takes lines for people.
    """

    folder: Path
    ear: Ear
    out: Callable[[str], object]
    scored: list[Scored] = field(default_factory=list)

    def keep(self, row: Row, samples: Samples) -> None:
        """Store a recording, hear it, and say what came of it.

        Raises:
            ScoreError: it can't be stored.
        """
        path = self.folder / row.file
        try:
            write_whole(path, flac(samples), private=True)
        except OSError as error:
            raise ScoreError(
                f"{path} can't be written: {error.strerror or error}; free some space"
            ) from error
        write_row(self.folder, row)
        one = scored_row(row, Condition(), samples, hear_whole(self.ear, samples))
        self.scored.append(one)
        self.out(f"heard: {heard_words(one) or '(nothing)'}   {outcome_of(one)}")

    def confused(self) -> list[Confusion]:
        """Give the words that were heard as others, in phrases whose meaning wasn't the likeliest."""
        said = said_by(self.ear.listening)
        return confusions(
            (said(one.row.text), heard_words(one).split())
            for one in self.scored
            if one.row.kind != "chatter" and one.result != RIGHT and not one.first_right
        )

    def finish(self) -> None:
        """Store the score and tell it."""
        confused = self.confused()
        form = {
            "recogniser": self.ear.recogniser.name,
            **report(self.scored),
            "confused": [{"said": one.said, "heard": one.heard, "times": one.times} for one in confused],
        }
        text = json.dumps(form, indent=1) + "\n"
        try:
            write_whole(self.folder / "score.json", text.encode(), private=True)
        except OSError as error:
            self.out(f"The score couldn't be stored: {error.strerror or error}.")
        for line in summary(self.scored, confused):
            self.out(line)


def run_rehearse(options: argparse.Namespace) -> int:
    """Rehearse, and tell the score."""
    plan = load_plan(options.plan)
    check = check_of(plan, options.check)
    with ExitStack() as around:
        rows: list[Row] = []
        if options.source is None:
            takes = around.enter_context(Takes(options.device))  # before a folder is made for nothing
        else:
            rows = rows_of(options.source, kept_rows(options.source, options.voice))[: options.count]
        ears = ears_of(plan, options)
        ear = ears.ear(check.name)
        folder = rehearsal_folder(datetime.now().astimezone(), options.folder)
        work = Rehearsal(folder, ear, _line)
        _keep_plan(plan, folder)
        if options.source is None:
            _line(f"Microphone: {takes.device}")
            steps = _read_aloud(takes, check, ear, options)
        else:
            steps = _from_files(options.source, rows)
        status, fault = _work_through(work, steps)
    if not work.scored:
        _line("Nothing was recorded.")
        for name in (NAME, PLAN_NAME):
            (folder / name).unlink(missing_ok=True)
        with suppress(OSError):  # it may hold what isn't ours
            folder.rmdir()
    else:
        work.finish()
        _line(f"Kept in {folder}")
        _line(f"handsfree adapt{_source_of(options)} learns from it; delete the folder to forget it.")
    if fault is not None:
        raise fault
    return status


def _keep_plan(plan: Plan, folder: Path) -> None:
    try:
        write_whole(folder / PLAN_NAME, plan.text.encode(), private=True)
    except OSError as error:
        raise ScoreError(f"{folder / PLAN_NAME} can't be written: {error.strerror or error}") from error


def _work_through(
    work: Rehearsal, steps: Iterator[tuple[Row, Samples]]
) -> tuple[int, SoundError | ScoreError | None]:
    """Keep each recording as it comes; being stopped or unplugged keeps those before."""
    try:
        for row, samples in steps:
            work.keep(row, samples)
    except KeyboardInterrupt:
        _line("\nStopped.")
        return STOPPED, None
    except (SoundError, ScoreError) as fault:
        return DONE, fault
    return DONE, None


def _read_aloud(
    takes: Takes, check: Check, ear: Ear, options: argparse.Namespace
) -> Iterator[tuple[Row, Samples]]:
    """Have each phrase read, those that went amiss once more."""
    count = options.count or PHRASES
    phrases = phrases_to_read(ear.listening, check, count, options.seed)
    _line(f"{len(phrases)} phrases. Read each aloud as you would say it at the bench; it ends by itself.")
    _line("Ctrl-C stops, and keeps what was recorded.")
    for number, phrase in enumerate(phrases, start=1):
        head = f"\n{number} of {len(phrases)}\n"
        take = takes.take(lambda: _show(head, phrase.text))  # noqa: B023 - called at once
        if take.trouble is not None:
            take = _once_more(takes, take.trouble, phrase.text)
        if len(take.samples):
            yield phrase.row(f"{number:02}.flac", options.voice or "me"), take.samples
        else:
            _line(f"{take.trouble} It is left out.")
    left = not_read(ear.listening, check, phrases)
    if left:
        _line(f"\nNot read this time: {', '.join(left)}. --count {count + len(left)} has them too.")


def _once_more(takes: Takes, trouble: Trouble, text: str) -> Take:
    return takes.take(lambda: _show(f"\n{trouble} Once more, please:\n", text))


def _from_files(folder: Path, rows: Sequence[Row]) -> Iterator[tuple[Row, Samples]]:
    """Give the recordings of a folder, renumbered, at 16 kHz."""
    digits = max(2, len(str(len(rows))))
    for number, row in enumerate(rows, start=1):
        samples = read_sound(folder / row.file)
        _line(f"\n{number} of {len(rows)}   {row.file}\n{row.text}")
        trouble = trouble_with(samples)
        if trouble is not None:
            _line(f"{'Nothing was heard.' if not np.any(samples) else trouble}")
        yield replace(row, file=f"{number:0{digits}}.flac"), samples


def summary(scored: Sequence[Scored], confused: Sequence[Confusion]) -> list[str]:
    """Put the score of a rehearsal into sentences."""
    said = [one for one in scored if one.row.kind != "chatter"]
    talk = [one for one in scored if one.row.kind == "chatter"]
    counts = {result: sum(one.result == result for one in said) for result in _OUTCOMES}
    lines = [
        "",
        f"Phrases: {len(said)}. Taken right {counts[RIGHT]}, wrong {counts[WRONG]}, "
        f"would be asked about {counts[ASKED]}, not understood {counts[IGNORED]}.",
    ]
    if talk:
        acted = sum(one.result == WRONG for one in talk)
        lines.append(f"Sentences that weren't for the bench: {len(talk)}. Acted on {acted}.")
    if confused:
        lines += ["Words that were confused:", *(f"  {one}" for one in confused[:_MOST_CONFUSIONS])]
        if len(confused) > _MOST_CONFUSIONS:
            lines.append(f"  and {len(confused) - _MOST_CONFUSIONS} more, in score.json")
    elif counts[RIGHT] == len(said):
        lines.append("No word was confused.")
    else:
        lines.append("No word was confused; what wasn't taken right was heard right, but not surely.")
    return lines


def outcome_of(one: Scored) -> str:
    """Say what came of a recording."""
    if one.row.kind == "chatter":
        return "ACTED ON" if one.result == WRONG else "not for the bench, and left alone"
    return _OUTCOMES[one.result]


def heard_words(one: Scored) -> str:
    """Give all words that were heard in a recording."""
    return " ".join(str(part["heard"]) for part in one.heard if part.get("heard"))


def _source_of(options: argparse.Namespace) -> str:
    return "" if options.folder is None else f" --from {options.folder}"


def _show(head: str, text: str) -> None:
    """Show a phrase as large as fits where the terminal can draw it."""
    encoding = (sys.stdout.encoding or "").lower().replace("-", "")
    _line(head)
    if sys.stdout.isatty() and encoding == "utf8":
        _line("\n".join(banner(text, shutil.get_terminal_size().columns)) + "\n")
    _line(f"    {text}\n")


def _line(text: str) -> None:
    print(for_terminal(text), flush=True)
