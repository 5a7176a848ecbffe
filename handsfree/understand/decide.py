"""Accept, ask or ignore: the decision on a hearing.

Two scores decide: the fit separates commands from chatter, the margin separates "log it" from "say
again?". A wrong value costs far more than a question, so the thresholds are biased towards asking.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from enum import StrEnum

from handsfree.understand.automaton import Automaton
from handsfree.understand.command import Control
from handsfree.understand.meaning import Context, Meaning, meanings

_LETTERS_A_TOKEN = 3
UNRIVALLED = 9.0
"""Margin of a phrase whose only rivals can't be meant now: the limit of the search."""


class Outcome(StrEnum):
    """The decision on an utterance."""

    ACCEPT = "accept"
    ASK = "ask"
    IGNORE = "ignore"


@dataclass(frozen=True, slots=True)
class Evidence:
    """A recogniser's scores of its own answer; None where it has none.

    words: the best hypothesis. others: its rivals, each with its distance behind it.
    confidence: the lowest word confidence, 0 to 1. pace: logarithm of the ratio of the duration
    of the speaker's sound to the expected duration of the words.
    """

    words: tuple[str, ...]
    fit: float | None = None
    margin: float | None = None
    others: tuple[tuple[tuple[str, ...], float], ...] = ()
    confidence: float | None = None
    pace: float | None = None


@dataclass(frozen=True, slots=True)
class Thresholds:
    """Thresholds of the decision.

    chatter_fit: below it an utterance is chatter. sure_fit, sure_margin: both must be reached to
    act without asking. rival_margin: a rival meaning within it is named in the question.
    confidence: for recognisers that give only a confidence. slowest: a pace above it means that
    part of the utterance was missed. far_fit, far_margin: procedure words that reach both are
    accepted up to a pace of far_slowest: free decoding heard only them too, so the rest was background
    talk. Beyond it the utterance was a whole sentence. This never holds for a number, since the
    unexplained time may hold more of its words.
    """

    chatter_fit: float = -2.0
    sure_fit: float = -0.45
    sure_margin: float = 3.0
    rival_margin: float = 4.0
    confidence: float = 0.75
    slowest: float = 0.9
    far_fit: float = -0.1
    far_margin: float = 6.0
    far_slowest: float = 2.0  # seven times as long as the words take


@dataclass(frozen=True, slots=True)
class Near:
    """An utterance meant for the bench but outside its grammar.

    said: its transcript. missing: an axis and a label that the plan lacks.
    """

    said: str = ""
    missing: tuple[str, str] | None = None


@dataclass(frozen=True, slots=True)
class Decision:
    """The outcome, with its one sure meaning or the candidates to ask about.

    near: the subject of a hint, where the words were meant for the bench but are outside its grammar.
    words: the accepted words, where a likelier hypothesis can't be meant now.
    """

    outcome: Outcome
    meanings: tuple[Meaning, ...] = ()
    near: Near | None = None
    words: tuple[str, ...] | None = None

    @property
    def meaning(self) -> Meaning | None:
        """The meaning to act on, or the likeliest one."""
        return self.meanings[0] if self.meanings else None


def decide(
    evidence: Evidence, automaton: Automaton, context: Context, thresholds: Thresholds | None = None
) -> Decision:
    """Decide on a hearing: accept, ask or ignore.

    Never makes a doubtful number sure: an ambiguous form, a close rival or a poor fit leads to a
    question, and sound outside the grammar is ignored.
    """
    limits = thresholds or Thresholds()
    evidence = now_possible(evidence, automaton, context)
    if not evidence.words:
        return Decision(Outcome.IGNORE)
    if _below(evidence.fit, limits.chatter_fit):
        return Decision(Outcome.IGNORE)
    found = meanings(evidence.words, automaton, context)
    if not found:
        return Decision(Outcome.IGNORE)
    if len(found) > 1 or not found[0].sure:
        return Decision(Outcome.ASK, found)
    doubtful = (
        _below(evidence.fit, limits.sure_fit)
        or _below(evidence.margin, limits.sure_margin)
        or _below(evidence.confidence, limits.confidence)
        or _unaccounted(evidence, found[0], limits)
    )
    if not doubtful:
        return Decision(Outcome.ACCEPT, found)
    rivals = _rivals(evidence, automaton, context, limits)
    return Decision(Outcome.ASK, tuple(dict.fromkeys((*found, *rivals))))


def _unaccounted(evidence: Evidence, meaning: Meaning, limits: Thresholds) -> bool:
    """Return whether the sound is longer than the words take, so that part of the command may be missing."""
    if evidence.pace is None or evidence.pace <= limits.slowest:
        return False
    words_alone = all(isinstance(command, Control) for command in meaning.commands)
    far_ahead = (
        evidence.fit is not None
        and evidence.margin is not None
        and evidence.fit >= limits.far_fit
        and evidence.margin >= limits.far_margin
    )
    return not (words_alone and far_ahead and evidence.pace <= limits.far_slowest)


def now_possible(evidence: Evidence, automaton: Automaton, context: Context) -> Evidence:
    """Drop phrases that have no meaning at this moment, such as "yes" without a question.

    Their lead is subtracted from the fit of the remaining phrase; the margin is its lead over the next
    possible phrase.
    """
    if context.possible is None or not evidence.words:
        return evidence
    ranked = [(evidence.words, 0.0), *evidence.others]
    left: list[tuple[tuple[str, ...], float]] = []
    for words, behind in ranked:
        found = meanings(words, automaton, context)
        if not found or any(context.possible(words, meaning) for meaning in found):
            left.append((words, behind))
    if len(left) == len(ranked):
        return evidence
    if not left:
        return Evidence(())
    (words, lost), *others = left
    fit = None if evidence.fit is None else evidence.fit - lost / _about_tokens(words)
    margin = evidence.margin
    if margin is not None:
        margin = others[0][1] - lost if others else max(margin, UNRIVALLED)
    ahead = tuple((other, behind - lost) for other, behind in others)
    return replace(evidence, words=words, fit=fit, margin=margin, others=ahead)


def _about_tokens(words: Sequence[str]) -> float:
    """Return the approximate token count of a phrase with its end mark: a fit is a mean over these."""
    return 1 + len(" ".join(words)) / _LETTERS_A_TOKEN


def _below(number: float | None, limit: float) -> bool:
    """Return whether a recogniser's score is below a threshold; NaN always is."""
    return number is not None and not number >= limit


def _rivals(
    evidence: Evidence, automaton: Automaton, context: Context, limits: Thresholds
) -> Sequence[Meaning]:
    return [
        meaning
        for words, behind in evidence.others
        if behind <= limits.rival_margin
        for meaning in meanings(words, automaton, context)
    ]
