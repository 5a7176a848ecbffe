"""Scores recognition of a folder of recordings: counts, intervals, times. The scoring is pure.

A recording of a command is right if only that command was accepted, wrong if anything else was accepted;
otherwise asked or ignored. A recording of chatter is right if nothing was accepted (asked and ignored are
counted separately), and wrong otherwise.
"""

from __future__ import annotations

import math
import sys
import zlib
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np

from handsfree.errors import ScoreError, SoundError
from handsfree.hear import SAMPLERATE_HZ, Hearing, Samples
from handsfree.recordings.manifest import ManifestRow, read_manifest, same_command
from handsfree.recordings.noise import KINDS as NOISES
from handsfree.recordings.noise import TAKES_TALK, spoil
from handsfree.understand import Command, Decision, Outcome

Recognised = tuple[Hearing, Decision]
"""The result of one utterance: its hearing and its decision."""
Hear = Callable[[Samples], Sequence[Recognised]]
Z_95 = 1.959963984540054  # two-sided 95 % point of the normal distribution

_CLIPS_OF_TALK = 12
RIGHT, WRONG, ASKED, IGNORED = "right", "wrong", "asked", "ignored"


@dataclass(frozen=True, slots=True)
class Condition:
    """The noise condition of a score; snr_db is None for "none" and for a silent "room"."""

    noise: str = "none"
    snr_db: float | None = None

    def __str__(self) -> str:
        return self.noise if self.snr_db is None else f"{self.noise} {self.snr_db:g} dB"


@dataclass(frozen=True, slots=True)
class Scored:
    """One recording's result.

    result: "right", "wrong", "asked" or "ignored". first_right: the likeliest command was the right
    one, whatever was decided (for chatter: nothing was accepted). decode_ms: computing, all its
    utterances together. heard: what came of each utterance.
    """

    row: ManifestRow
    condition: Condition
    result: str
    first_right: bool
    decode_ms: float
    seconds: float
    heard: tuple[Recognised, ...]


@dataclass(frozen=True, slots=True)
class Tally:
    """Counts of results."""

    right: int = 0
    wrong: int = 0
    asked: int = 0
    ignored: int = 0
    first_right: int = 0

    @property
    def total(self) -> int:
        """Number of scored recordings."""
        return self.right + self.wrong + self.asked + self.ignored

    def as_json(self) -> dict[str, Any]:
        """Return it JSON-ready: counts, shares, and Wilson intervals at 95 % of right and wrong."""
        form: dict[str, Any] = {"total": self.total}
        for name in (RIGHT, WRONG, ASKED, IGNORED, "first_right"):
            form[name] = getattr(self, name)
        for name in (RIGHT, WRONG):
            low, high = wilson(getattr(self, name), self.total)
            form[f"{name}_share"] = round(getattr(self, name) / self.total, 5) if self.total else None
            form[f"{name}_interval"] = [round(low, 5), round(high, 5)]
        return form


def wilson(count: int, total: int, z: float = Z_95) -> tuple[float, float]:
    """Return the score interval of a proportion; (0, 1) for no observations.

    Source: E. B. Wilson, 1927, as in the NIST/SEMATECH e-Handbook, section 7.2.4.1 (from memory).

    >>> [round(limit, 4) for limit in wilson(9, 10)]
    [0.5958, 0.9821]
    """
    if total == 0:
        return 0.0, 1.0
    share = count / total
    middle = (share + z * z / (2 * total)) / (1 + z * z / total)
    half = z / (1 + z * z / total) * math.sqrt(share * (1 - share) / total + z * z / (4 * total * total))
    low = 0.0 if count == 0 else max(0.0, middle - half)
    high = 1.0 if count == total else min(1.0, middle + half)
    return low, high


def judge_row(row: ManifestRow, decisions: Sequence[Decision]) -> tuple[str, bool]:
    """Return the result for one recording, and whether the likeliest command was the right one.

    decisions: one an utterance; a chain of readings counts as all its commands.
    """
    return judge_command(row.expected(), decisions, talk=row.kind == "chatter")


def judge_command(
    expected: Command | None, decisions: Sequence[Decision], *, talk: bool = False
) -> tuple[str, bool]:
    """Return the result where this command should come of it, or nothing, if it is talk."""
    accepted = [one for one in decisions if one.outcome is Outcome.ACCEPT]
    asked = any(one.outcome is Outcome.ASK for one in decisions)
    unsure = ASKED if asked else IGNORED
    if talk:
        return (WRONG, False) if accepted else (unsure, True)
    first_right = _means(expected, decisions)
    if not accepted:
        return unsure, first_right
    return RIGHT if _means(expected, accepted) else WRONG, first_right


def _means(expected: Command | None, decisions: Sequence[Decision]) -> bool:
    """Return whether the likeliest meanings are the one command that was expected, and nothing else."""
    commands = [command for one in decisions if one.meaning for command in one.meaning.commands]
    return expected is not None and len(commands) == 1 and same_command(expected, commands[0])


def tally(scored: Iterable[Scored]) -> Tally:
    """Return the counts of results."""
    counts = dict.fromkeys((RIGHT, WRONG, ASKED, IGNORED), 0)
    first = 0
    for one in scored:
        counts[one.result] += 1
        first += one.first_right
    return Tally(counts[RIGHT], counts[WRONG], counts[ASKED], counts[IGNORED], first)


def by(scored: Sequence[Scored], key: Callable[[Scored], str]) -> dict[str, Tally]:
    """Return the counts of results by `key`, in the order of first occurrence."""
    groups: dict[str, list[Scored]] = {}
    for one in scored:
        groups.setdefault(key(one), []).append(one)
    return {name: tally(group) for name, group in groups.items()}


def timing(scored: Sequence[Scored]) -> dict[str, float | None]:
    """Return the median and 95th percentile of decode time, ms, and its share of real time."""
    times = [one.decode_ms for one in scored]
    seconds = sum(one.seconds for one in scored)
    return {
        "decode_ms_p50": round(float(np.percentile(times, 50)), 1) if times else None,
        "decode_ms_p95": round(float(np.percentile(times, 95)), 1) if times else None,
        "real_time_factor": round(sum(times) / 1000 / seconds, 4) if seconds else None,
    }


def peak_memory_mb() -> float | None:
    """Return the peak memory of this process so far, MB; None if the system can't report it."""
    try:
        import resource  # not on every system
    except ImportError:
        return None
    peak = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss
    return round(peak / (1e6 if sys.platform == "darwin" else 1e3), 1)  # macOS counts bytes, Linux kB


def report(scored: Sequence[Scored]) -> dict[str, Any]:
    """Return all scores JSON-ready: commands and chatter separately, then by voice, kind and noise."""
    commands = [one for one in scored if one.row.kind != "chatter"]
    chatter = [one for one in scored if one.row.kind == "chatter"]
    return {
        "commands": tally(commands).as_json(),
        "chatter": tally(chatter).as_json(),
        "by_voice": _forms(by(commands, lambda one: one.row.voice)),
        "by_kind": _forms(by(scored, lambda one: one.row.kind)),
        "by_noise": _forms(by(commands, lambda one: str(one.condition))),
        "chatter_by_noise": _forms(by(chatter, lambda one: str(one.condition))),
        **timing(scored),
        "seconds_of_sound": round(sum(one.seconds for one in scored), 1),
        "peak_memory_mb": peak_memory_mb(),
    }


def _forms(tallies: Mapping[str, Tally]) -> dict[str, Any]:
    return {name: one.as_json() for name, one in tallies.items()}


def in_noise(
    rows: Sequence[ManifestRow], read: Callable[[ManifestRow], Samples], condition: Condition, seed: int = 1
) -> Iterator[tuple[ManifestRow, Samples]]:
    """Yield each recording with noise that depends only on the file, the condition and the seed.

    Args:
        rows: the manifest.
        read: returns a row's sound, (n,) int16 at 16 kHz. Called again for rows whose speech is used for
            babble: those of other voices if there are any.
        condition: the noise to add.
        seed: changes the noise.
    """
    for row in rows:
        rng = np.random.default_rng([seed, zlib.crc32(f"{row.file} {condition}".encode())])
        samples = read(row)
        talk: list[Samples] = []
        if condition.noise in TAKES_TALK:
            others = [other for other in rows if other.voice != row.voice] or list(rows)
            picks = rng.choice(len(others), size=min(_CLIPS_OF_TALK, len(others)), replace=False)
            talk = [read(others[pick]) for pick in picks]
        yield row, spoil(samples, condition.noise, condition.snr_db, rng, talk)


def scored_row(
    row: ManifestRow, condition: Condition, samples: Samples, heard: Sequence[Recognised]
) -> Scored:
    """Score what was heard of one recording: (n,) int16 at 16 kHz."""
    result, first_right = judge_row(row, [decision for _, decision in heard])
    decode_ms = sum(hearing.decode_ms for hearing, _ in heard)
    return Scored(row, condition, result, first_right, decode_ms, len(samples) / SAMPLERATE_HZ, tuple(heard))


def score_rows(
    rows: Sequence[ManifestRow],
    read: Callable[[ManifestRow], Samples],
    hear: Hear,
    condition: Condition = Condition(),
    seed: int = 1,
) -> Iterator[Scored]:
    """Score recordings one by one; see `in_noise` for the noise.

    hear: what a recogniser and the decision make of one recording, by utterances.
    """
    for row, samples in in_noise(rows, read, condition, seed):
        yield scored_row(row, condition, samples, hear(samples))


def check_condition(condition: Condition) -> None:
    """Check that a noise condition is valid.

    Raises:
        ScoreError: the noise is unknown, or its ratio is missing.
    """
    if condition.noise not in NOISES:
        raise ScoreError(f"noise {condition.noise!r} is none of {', '.join(NOISES)}")
    if condition.snr_db is None and condition.noise not in ("none", "room"):
        raise ScoreError(
            f"noise {condition.noise!r} needs a signal-to-noise ratio; add one in dB, such as 15"
        )


def rows_of(folder: Path, keep: Callable[[ManifestRow], bool] = lambda _: True) -> list[ManifestRow]:
    """Return the rows of a folder to be scored, after checking that all files exist.

    Raises:
        ScoreError: the manifest is invalid, or there are no rows to score.
        SoundError: a file is missing.
    """
    rows = [row for row in read_manifest(folder) if keep(row)]
    if not rows:
        raise ScoreError(f"{folder / 'manifest.csv'} has no rows to score")
    for row in rows:
        if not (folder / row.file).is_file():
            raise SoundError(
                f"{folder / row.file} is named in the manifest but isn't there; "
                "remove its row or bring it back"
            )
    return rows
