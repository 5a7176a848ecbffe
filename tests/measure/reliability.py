"""Reliability of the stated confidence, and the cost of each threshold.

    python -m tests.measure.reliability --every 4 --write

The stated confidence of an answer is the share of its probability against the runner-up of another
meaning alone: 1 / (1 + exp(-margin)). Beside it stands how often the likeliest command was the right one.
A wrong value counts as much as a hundred questions.
"""

from __future__ import annotations

import argparse
import itertools
import math
import sys
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from handsfree.recordings import Scored
from handsfree.understand import Thresholds
from tests.measure.accuracy import NOISES, ROOT, Asked, run
from tests.measure.results import keep

BOUNDS = (0.0, 1.0, 2.0, 3.0, 4.0, 6.0, 9.0, math.inf)
MARGINS = (1.0, 1.5, 2.0, 2.5, 3.0, 3.5, 4.0, 5.0, 6.0)
A_WRONG_VALUE = 100  # questions


@dataclass(frozen=True, slots=True)
class Answer:
    """The result of a recording with one utterance: its split and its confidence."""

    split: str
    margin: float
    fit: float
    right: bool

    @property
    def stated(self) -> float:
        """The stated confidence, 0.5 to 1."""
        return 1 / (1 + math.exp(-self.margin))


def answers(scored: Iterable[Scored]) -> list[Answer]:
    """Return the answers of commands that were heard as one utterance of the grammar."""
    return [
        Answer(one.row.split or "", hearing.margin, hearing.fit, one.first_right)
        for one in scored
        if one.row.kind != "chatter" and len(one.heard) == 1
        for hearing, _ in one.heard
        if hearing.margin is not None and hearing.fit is not None
    ]


def curve(given: Sequence[Answer]) -> str:
    """Write the reliability curve: for answers as sure as they must be by their fit."""
    sure = [answer for answer in given if answer.fit >= Thresholds().sure_fit]
    splits = sorted({answer.split for answer in sure})
    lines = [
        f"| margin | stated | {' | '.join(f'right, {split}' for split in splits)} |",
        "| --- | --- |" + " --- |" * len(splits),
    ]
    for low, high in itertools.pairwise(BOUNDS):
        here = [answer for answer in sure if low <= answer.margin < high]
        if not here:
            continue
        stated = sum(answer.stated for answer in here) / len(here)
        cells = [_share([a.right for a in here if a.split == split]) for split in splits]
        label = f"{low:g} and more" if math.isinf(high) else f"{low:g} to {high:g}"
        lines.append(f"| {label} | {stated:.3f} | {' | '.join(cells)} |")
    return "\n".join(lines)


def costs(given: Sequence[Answer]) -> str:
    """Write what each margin would have cost, were it the threshold: in questions, a recording."""
    splits = sorted({answer.split for answer in given})
    lines = [
        f"| margin | {' | '.join(f'right / wrong / cost, {split}' for split in splits)} |",
        "| --- |" + " --- |" * len(splits),
    ]
    for margin in MARGINS:
        cells = []
        for split in splits:
            here = [answer for answer in given if answer.split == split]
            taken = [a for a in here if a.fit >= Thresholds().sure_fit and a.margin >= margin]
            wrong = sum(not answer.right for answer in taken)
            cost = (len(here) - len(taken) + A_WRONG_VALUE * wrong) / len(here)
            cells.append(f"{(len(taken) - wrong) / len(here):.3f} / {wrong / len(here):.4f} / {cost:.2f}")
        chosen = " (chosen)" if margin == Thresholds().sure_margin else ""
        lines.append(f"| {margin:g}{chosen} | {' | '.join(cells)} |")
    return "\n".join(lines)


def _share(right: Sequence[bool]) -> str:
    return f"{sum(right) / len(right):.3f} of {len(right)}" if right else "-"


def main(arguments: Sequence[str] | None = None) -> int:
    """Measure, show, and write with --write."""
    parser = argparse.ArgumentParser(description=(__doc__ or "").splitlines()[0])
    parser.add_argument("--every", type=int, default=1, help="take about one recording in so many")
    parser.add_argument("--snr", nargs="+", type=float, default=(15.0, 10.0, 5.0), metavar="DB")
    parser.add_argument("--write", action="store_true")
    options = parser.parse_args(arguments)
    fixtures = ROOT / "audio_fixtures"
    asked = Asked(
        fixtures, ROOT / "demo" / "plan.toml", NOISES, options.snr, ["embedded"], options.every, None, "", 1
    )
    given = answers(run(asked)["embedded"])
    shown = (
        f"{curve(given)}\n\n"
        "Stated is 1 / (1 + exp(-margin)), the mean of the row. What each threshold of the margin would "
        "have meant; the cost is in questions for a recording, a wrong value counting a hundred:\n\n"
        f"{costs(given)}\n\n"
        f"{len(given)} answers of all noises at {', '.join(f'{snr:g}' for snr in options.snr)} dB and none. "
        f"`python -m tests.measure.reliability --every {options.every} --write`"
    )
    print(shown)
    if options.write:
        keep("reliability", None, shown)
    return 0


if __name__ == "__main__":
    sys.exit(main())
