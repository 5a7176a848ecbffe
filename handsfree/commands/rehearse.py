"""`handsfree rehearse`: read phrases aloud, keep the recordings, and show confusions."""

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
from typing import TYPE_CHECKING

from handsfree.commands.options import DONE, add_plan, add_recogniser, count, ears_of, seed
from handsfree.commands.outputs import print_line
from handsfree.commands.score import check_of, hear_whole, kept_rows, said_by
from handsfree.errors import ScoreError, SoundError
from handsfree.files import write_whole

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    from handsfree.adapt import Confusion, People
    from handsfree.ears import Ear
    from handsfree.hear import Samples
    from handsfree.live import Take, Takes, Trouble
    from handsfree.plan import Check, Plan
    from handsfree.recordings import ManifestRow, Scored

STOPPED = 130
PHRASES = 20
"""Default of --count."""

_MOST_CONFUSIONS = 12  # in the report; a misread phrase causes many


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Add the arguments of `handsfree rehearse`."""
    parser.description = (
        "Each phrase ends by itself; Ctrl-C keeps what was recorded. Nothing leaves the machine."
    )
    add_plan(parser)
    parser.add_argument("--check", metavar="NAME", help="the check of the plan to rehearse (its first)")
    parser.add_argument(
        "--from",
        type=Path,
        dest="source",
        metavar="DIR",
        help="recordings with a manifest.csv, not a microphone",
    )
    parser.add_argument(
        "--to",
        type=Path,
        dest="folder",
        metavar="DIR",
        help="keep them here (a new folder in the user's data)",
    )
    parser.add_argument(
        "--count",
        type=count,
        metavar="N",
        help=f"phrases to read ({PHRASES}); with --from the most to take (all)",
    )
    parser.add_argument("--seed", type=seed, default=1, metavar="N", help="other phrases (1)")
    parser.add_argument(
        "--voice", metavar="NAME", help="whose they are (me); with --from only this voice of its manifest"
    )
    parser.add_argument("--device", metavar="NAME", help="microphone: number or part of its name")
    add_recogniser(parser)
    parser.set_defaults(run=run)


def run(options: argparse.Namespace) -> int:
    """Rehearse, and print the score."""
    from handsfree.adapt import rehearsal_folder
    from handsfree.live import Takes
    from handsfree.planfile import load_plan
    from handsfree.recordings import NAME, PLAN_NAME, rows_of

    plan = load_plan(options.plan)
    check = check_of(plan, options.check)
    with ExitStack() as around:
        rows: list[ManifestRow] = []
        if options.source is None:
            takes = around.enter_context(Takes(options.device))  # before a useless folder is made
        else:
            rows = rows_of(options.source, kept_rows(options.source, options.voice))[: options.count]
        ears = ears_of(plan, options)
        ear = ears.ear(check.name)
        folder = rehearsal_folder(datetime.now().astimezone(), options.folder)
        work = Rehearsal(folder, ear, print_line, people_of(options))
        _keep_plan(plan, folder)
        if options.source is None:
            print_line(f"Microphone: {takes.device}")
            steps = _read_aloud(takes, check, ear, options)
        else:
            steps = _from_files(options.source, rows)
        status, fault = _work_through(work, steps)
    if not work.scored:
        print_line("Nothing was recorded.")
        for name in (NAME, PLAN_NAME):
            (folder / name).unlink(missing_ok=True)
        with suppress(OSError):  # it may contain other files
            folder.rmdir()
    else:
        work.finish()
        print_line(f"Kept in {folder}")
        print_line(f"handsfree adapt{_source_of(options)} learns from it; delete the folder to forget it.")
    if fault is not None:
        raise fault
    return status


def people_of(options: argparse.Namespace) -> People | None:
    """Return who learns the voice: nobody, if the recordings may be of several people."""
    if options.source is not None and not options.voice:
        return None
    from handsfree.adapt import ME, People, load_voices, voices_path
    from handsfree.hear import VoiceModel

    return People(options.voice or ME, VoiceModel(), load_voices(), voices_path())


@dataclass
class Rehearsal:
    """A running rehearsal: its folder, and the recordings so far.

    out: takes lines of text. people: learns the voice; None where it may be anybody's.
    """

    folder: Path
    ear: Ear
    out: Callable[[str], object]
    people: People | None = None
    scored: list[Scored] = field(default_factory=list)
    voices: list[NDArray[np.float32]] = field(default_factory=list)

    def keep(self, row: ManifestRow, samples: Samples) -> None:
        """Store a recording, recognise it, and report the result.

        Raises:
            ScoreError: it can't be stored.
        """
        from handsfree.adapt import write_row
        from handsfree.journal import flac
        from handsfree.recordings import RIGHT, Condition, scored_row

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
        spoke = self.people.spoke(samples) if self.people is not None and one.result == RIGHT else None
        if spoke is not None:
            self.voices.append(spoke.voice)
        self.out(f"heard: {heard_words(one) or '(nothing)'}   {outcome_of(one)}")

    def confused(self) -> list[Confusion]:
        """Return the confused words, in phrases whose meaning wasn't the likeliest."""
        from handsfree.adapt import confusions
        from handsfree.recordings import RIGHT

        said = said_by(self.ear.listening)
        return confusions(
            (said(one.row.text), heard_words(one).split())
            for one in self.scored
            if one.row.kind != "chatter" and one.result != RIGHT and not one.first_right
        )

    def finish(self) -> None:
        """Store and print the score."""
        from handsfree.recordings import report

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
        if self.people is not None and self.voices:
            self.people.learn(self.voices)
            self.out(f'The voice is known now as "{self.people.who}"; handsfree adapt --forget removes it.')


def _keep_plan(plan: Plan, folder: Path) -> None:
    from handsfree.recordings import PLAN_NAME

    try:
        write_whole(folder / PLAN_NAME, plan.text.encode(), private=True)
    except OSError as error:
        raise ScoreError(f"{folder / PLAN_NAME} can't be written: {error.strerror or error}") from error


def _work_through(
    work: Rehearsal, steps: Iterator[tuple[ManifestRow, Samples]]
) -> tuple[int, SoundError | ScoreError | None]:
    """Store each recording at once; an interruption or unplugging keeps the earlier ones."""
    try:
        for row, samples in steps:
            work.keep(row, samples)
    except KeyboardInterrupt:
        print_line("\nStopped.")
        return STOPPED, None
    except (SoundError, ScoreError) as fault:
        return DONE, fault
    return DONE, None


def _read_aloud(
    takes: Takes, check: Check, ear: Ear, options: argparse.Namespace
) -> Iterator[tuple[ManifestRow, Samples]]:
    """Record each phrase; failed ones are asked for once more."""
    from handsfree.adapt import ME, not_read, phrases_to_read

    wanted = options.count or PHRASES
    phrases = phrases_to_read(ear.listening, check, wanted, options.seed)
    print_line(
        f"{len(phrases)} phrases. Read each aloud as you would say it at the bench; it ends by itself."
    )
    print_line("Ctrl-C stops, and keeps what was recorded.")
    for number, phrase in enumerate(phrases, start=1):
        head = f"\n{number} of {len(phrases)}\n"
        take = takes.take(lambda: _show(head, phrase.text))  # noqa: B023 - called at once
        if take.trouble is not None:
            take = _once_more(takes, take.trouble, phrase.text)
        if len(take.samples):
            yield phrase.row(f"{number:02}.flac", options.voice or ME), take.samples
        else:
            print_line(f"{take.trouble} It is left out.")
    left = not_read(ear.listening, check, phrases)
    if left:
        print_line(f"\nNot read this time: {', '.join(left)}. --count {wanted + len(left)} has them too.")


def _once_more(takes: Takes, trouble: Trouble, text: str) -> Take:
    return takes.take(lambda: _show(f"\n{trouble} Once more, please:\n", text))


def _from_files(folder: Path, rows: Sequence[ManifestRow]) -> Iterator[tuple[ManifestRow, Samples]]:
    """Return the recordings of a folder, renumbered, at 16 kHz."""
    import numpy as np

    from handsfree.hear import read_sound
    from handsfree.live import trouble_with

    digits = max(2, len(str(len(rows))))
    for number, row in enumerate(rows, start=1):
        samples = read_sound(folder / row.file)
        print_line(f"\n{number} of {len(rows)}   {row.file}\n{row.text}")
        trouble = trouble_with(samples)
        if trouble is not None:
            print_line(f"{'Nothing was heard.' if not np.any(samples) else trouble}")
        yield replace(row, file=f"{number:0{digits}}.flac"), samples


def summary(scored: Sequence[Scored], confused: Sequence[Confusion]) -> list[str]:
    """Return the score of a rehearsal in sentences."""
    from handsfree.recordings import ASKED, IGNORED, RIGHT, WRONG

    said = [one for one in scored if one.row.kind != "chatter"]
    talk = [one for one in scored if one.row.kind == "chatter"]
    counts = {result: sum(one.result == result for one in said) for result in (RIGHT, WRONG, ASKED, IGNORED)}
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
    """Return the result of a recording as a sentence."""
    from handsfree.recordings import ASKED, IGNORED, RIGHT, WRONG

    if one.row.kind == "chatter":
        return "ACTED ON" if one.result == WRONG else "not for the bench, and left alone"
    told = {RIGHT: "right", WRONG: "WRONG", ASKED: "you would be asked", IGNORED: "not understood"}
    return told[one.result]


def heard_words(one: Scored) -> str:
    """Return all words that were heard in a recording."""
    return " ".join(word for hearing, _ in one.heard for word in hearing.words)


def _source_of(options: argparse.Namespace) -> str:
    return "" if options.folder is None else f" --from {options.folder}"


def _show(head: str, text: str) -> None:
    """Show a phrase as large as possible if the terminal can draw it."""
    from handsfree.show import banner

    encoding = (sys.stdout.encoding or "").lower().replace("-", "")
    print_line(head)
    if sys.stdout.isatty() and encoding == "utf8":
        print_line("\n".join(banner(text, shutil.get_terminal_size().columns)) + "\n")
    print_line(f"    {text}\n")
