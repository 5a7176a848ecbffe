"""What can go wrong, each as one sentence: what was wanted, what was found, where, what to do."""

from __future__ import annotations

import errno
from collections.abc import Iterable
from difflib import get_close_matches

GONE = frozenset({errno.EPIPE, errno.EIO})
"""What writing to a reader or a terminal fails with when that has gone."""


class HandsfreeError(Exception):
    """Base of every error that a person may see; its text is one plain sentence."""


class PlanError(HandsfreeError):
    """A plan file that can't be used."""


class SoundError(HandsfreeError):
    """A sound file or sound device that can't be used."""


class ModelError(HandsfreeError):
    """A recogniser's model that is missing or isn't one."""


class GrammarError(HandsfreeError):
    """A grammar or spelling file that can't be used."""


class JournalError(HandsfreeError):
    """A journal that can't be opened, read or written."""


class ShareError(HandsfreeError):
    """The shop's database can't be used, or differs from a journal."""


class KeypadError(HandsfreeError):
    """A key file or keypad that can't be used."""


class VoiceError(HandsfreeError):
    """A speech synthesiser that can't be used."""


class AdaptationError(HandsfreeError):
    """What was learned of a voice can't be read or written, or there is nothing to learn it from."""


class ScoreError(HandsfreeError):
    """A folder of recordings that can't be scored."""


def install_extra(extra: str) -> str:
    """Return what to do to get the packages of an extra: no index has this program, its checkout has.

    >>> install_extra("web")
    'run pip install ".[web]" in the checkout'
    """
    return f'run pip install ".[{extra}]" in the checkout'


def nearest(word: str, words: Iterable[str]) -> str | None:
    """Give the word of `words` that looks most like `word`, or None if none does.

    >>> nearest("cylindre", ["cylinder", "ring"])
    'cylinder'
    """
    lowered = {candidate.lower(): candidate for candidate in words}
    found = get_close_matches(word.lower(), lowered, n=1, cutoff=0.5)
    return lowered[found[0]] if found else None


def did_you_mean(word: str, words: Iterable[str]) -> str:
    """Give the end of an error's sentence: the nearest right word, or all of them.

    >>> did_you_mean("cylindre", ["cylinder", "ring"])
    'did you mean "cylinder"?'
    >>> did_you_mean("xyz", ["cylinder", "ring"])
    'use one of: cylinder, ring'
    """
    known = list(words)
    close = nearest(word, known)
    return f'did you mean "{close}"?' if close else f"use one of: {', '.join(known)}"
