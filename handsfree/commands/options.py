"""Options shared by several commands: recogniser, data kept by a session, files, bounded numbers."""

from __future__ import annotations

import argparse
import math
import re
from collections.abc import Iterator, Sequence
from pathlib import Path
from typing import TYPE_CHECKING

from handsfree.errors import ModelError, SoundError
from handsfree.preferences import FASTEST, SLOWEST
from handsfree.textfile import lines_of, read_text
from handsfree.visible import shown

if TYPE_CHECKING:
    from handsfree.adapt import Adaptation
    from handsfree.ears import Recognisers
    from handsfree.journal import Journal, Sounds
    from handsfree.plan import Plan
    from handsfree.session import ChangedPlan

DONE = 0
"""Exit status of a successful command."""

SOUND_ENDINGS = frozenset({".wav", ".flac", ".ogg", ".oga", ".opus", ".aif", ".aiff", ".au", ".mp3"})
KEYS_ENDING = ".keys"

_MOST_COUNT = 1_000_000
_MOST_SEED = 2**32 - 1


def add_plan(parser: argparse.ArgumentParser) -> None:
    """Add the plan, the first argument of most commands."""
    parser.add_argument("plan", type=Path, metavar="PLAN", help="the plan's file")


def add_journal(parser: argparse.ArgumentParser) -> None:
    """Add the journal that a command reads."""
    parser.add_argument("journal", type=Path, metavar="JOURNAL", help="the journal's file")


def add_places(parser: argparse.ArgumentParser) -> None:
    """Add journals and folders of journals."""
    parser.add_argument(
        "places",
        nargs="*",
        type=Path,
        default=[Path()],
        metavar="JOURNAL|FOLDER",
        help="journals and folders (this folder)",
    )


def add_recogniser(parser: argparse.ArgumentParser) -> None:
    """Add the options of the recogniser."""
    parser.add_argument(
        "--recogniser",
        choices=("auto", "phrase", "vosk"),
        default="auto",
        help="auto and phrase: the embedded one; vosk: Vosk, with a model of its own",
    )
    parser.add_argument(
        "--encoder",
        type=Path,
        metavar="FILE",
        help='encoder of the embedded recogniser; "packaged" is the one not adapted to workshops',
    )
    parser.add_argument(
        "--model", type=Path, metavar="DIR", help="folder of a Vosk model, with --recogniser vosk"
    )
    parser.add_argument(
        "--no-adapt", action="store_true", help="leave out what `handsfree adapt` learned of your voice"
    )


def adaptation_of(options: argparse.Namespace) -> Adaptation | None:
    """Return the speaker adaptation of the user; None if there is none, or it is switched off.

    Raises:
        AdaptationError: the file exists but can't be used.
    """
    if options.no_adapt:
        return None
    from handsfree.adapt import load_adaptation

    return load_adaptation()


def ears_of(plan: Plan, options: argparse.Namespace) -> Recognisers:
    """Create the requested ears.

    Raises:
        AdaptationError: the file of the speaker adaptation can't be used.
        ModelError: a Vosk model is named without choosing Vosk.
    """
    from handsfree.ears import Choice, Recognisers

    if options.model is not None and options.recogniser != Choice.VOSK.value:
        raise ModelError(
            "--model names a Vosk model, and Vosk listens only when it is asked for; add --recogniser vosk"
        )
    adaptation = adaptation_of(options)
    choice = Choice(options.recogniser)
    return Recognisers(plan, choice, options.model, options.encoder, adaptation=adaptation)


def add_kept_options(parser: argparse.ArgumentParser) -> None:
    """Add the options for the person who measures and for keeping sound."""
    parser.add_argument("--who", metavar="NAME", help="who measures, for the build sheet")
    parser.add_argument(
        "--changed-plan",
        choices=("keep", "judge"),
        help="go on though the plan was edited since the journal was opened: keep its verdicts, or judge "
        "what stands anew",
    )
    parser.add_argument(
        "--no-sounds", action="store_true", help="keep no sound of what was said beside the journal"
    )


def facts_of(options: argparse.Namespace) -> dict[str, str]:
    """Return the facts for opening the journal, apart from the plan."""
    return {"who": options.who} if options.who else {}


def changed_plan_of(options: argparse.Namespace) -> ChangedPlan | None:
    """Return how to continue if the plan was edited since; None if not specified."""
    from handsfree.session import ChangedPlan

    return ChangedPlan(options.changed_plan) if options.changed_plan else None


def sounds_of(journal: Journal, options: argparse.Namespace) -> Sounds | None:
    """Return the folder for sound, beside the journal; None without a file or if it is switched off."""
    from handsfree.journal import Sounds

    if journal.path is None or options.no_sounds:
        return None
    return Sounds.beside(journal.path)


def named_files(names: Sequence[str]) -> list[Path]:
    """Return the files named by arguments: a file, a folder's sounds and key files, or @ and a list.

    A list holds one name a line, relative to the list's own folder unless absolute. All are looked
    up before the first is used, so that an unreadable list leaves no work half done.

    Raises:
        SoundError: an unreadable list or folder.
    """
    return [path for name in names for path in _named(name)]


def _named(name: str) -> Iterator[Path]:
    path = Path(name)
    if name.startswith("@"):
        yield from _listed(Path(name[1:]))
    elif _is_folder(path):
        yield from _sounds_in(path)
    else:
        yield path


def _is_folder(path: Path) -> bool:
    try:
        return path.is_dir()
    except OSError:  # a name too long, or a folder without permission: reading it reports that
        return False


def _sounds_in(folder: Path) -> list[Path]:
    try:
        return sorted(p for p in folder.iterdir() if p.suffix.lower() in {*SOUND_ENDINGS, KEYS_ENDING})
    except OSError as error:
        why = error.strerror or error
        raise SoundError(f"{shown(folder)}: the folder can't be read ({why}); check it") from None


def _listed(listing: Path) -> Iterator[Path]:
    for line in lines_of(read_text(listing, "list", SoundError)):
        if line.strip():
            yield listing.parent / line.strip()


def is_keys(path: Path) -> bool:
    """Return whether a file is a key file."""
    return path.suffix.lower() == KEYS_ENDING


def decibels(text: str) -> float:
    """Return a level in dB."""
    number = float(text)
    if not math.isfinite(number):
        raise argparse.ArgumentTypeError(f"{text} is no number of decibels")
    return number


def count(text: str) -> int:
    """Return a count of one or more."""
    return _within(text, 1, _MOST_COUNT)


def seed(text: str) -> int:
    """Return a seed of random numbers."""
    return _within(text, 0, _MOST_SEED)


def rate(text: str) -> int:
    """Return a rate of speech in words a minute."""
    return _within(text, SLOWEST, FASTEST)


def fraction(text: str) -> float:
    """Return a number from 0 to 1."""
    number = float(text)
    if not 0 <= number <= 1:  # this refuses NaN too
        raise argparse.ArgumentTypeError(f"{text} isn't from 0 to 1")
    return number


def _within(text: str, least: int, most: int) -> int:
    if not re.fullmatch(r"\s*[+-]?[0-9]+\s*", text):
        raise argparse.ArgumentTypeError(f"{text} is no whole number")
    number = int(text) if len(text.strip()) <= len(str(most)) + 1 else most + 1
    if not least <= number <= most:
        raise argparse.ArgumentTypeError(f"{text} is no whole number from {least} to {most}")
    return number
