"""Accept, ask or ignore: what may be done with what was heard.

Two numbers decide: the fit tells commands from chatter, the margin tells "log it" from "say
again?". A wrong value costs far more than a question, so the thresholds lean to asking.
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
"""The margin of a phrase whose only rivals can't be meant now: as far as a search looks."""


class Outcome(StrEnum):
    """What to do with an utterance."""

    ACCEPT = "accept"
    ASK = "ask"
    IGNORE = "ignore"


@dataclass(frozen=True, slots=True)
class Evidence:
    """What a recogniser said of its own answer; None where it can't say.

    words: best first; the rest are other phrases that explain the sound, with how far behind
    the best each is. confidence: the lowest word confidence, 0 to 1. pace: logarithm of how much
    longer the sound is than the words take to say.
    """

    words: tuple[str, ...]
    fit: float | None = None
    margin: float | None = None
    others: tuple[tuple[tuple[str, ...], float], ...] = ()
    confidence: float | None = None
    pace: float | None = None


@dataclass(frozen=True, slots=True)
class Thresholds:
    """Where the lines are drawn.

    chatter_fit: below it an utterance is talk that wasn't meant for the bench. sure_fit,
    sure_margin: both must be reached to act without asking. rival_margin: another meaning this
    close is worth naming in the question. confidence: for recognisers that give only that.
    slowest: a pace above it means that more was said than was heard. far_fit, far_margin: procedure
    words that reach both are taken at any pace: nothing but them was heard without a grammar either,
    so that what went on around them was talk in the background. A number never is, since what its
    time isn't accounted for may be more of it.
    """

    chatter_fit: float = -2.0
    sure_fit: float = -0.45
    sure_margin: float = 3.0
    rival_margin: float = 4.0
    confidence: float = 0.75
    slowest: float = 0.9
    far_fit: float = -0.1
    far_margin: float = 6.0


@dataclass(frozen=True, slots=True)
class Near:
    """Something said to the bench that isn't of its grammar.

    said: how it was written down. missing: an axis and a label that the plan doesn't have.
    """

    said: str = ""
    missing: tuple[str, str] | None = None


@dataclass(frozen=True, slots=True)
class Decision:
    """The outcome, with what it is about: one sure meaning, or those worth asking about.

    near: what a hint is about, where the words were meant for the bench and aren't of its grammar.
    words: those that were taken, where they aren't the likeliest: what is likelier can't be meant now.
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
    """Decide what may be done with what was heard.

    Never turns a doubtful number into a sure one: an ambiguous form, a rival close behind or a
    poor fit gives a question, and sound that isn't of the grammar gives nothing.
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
    """Whether there was more sound than the words take, and it may have been more of the command."""
    if evidence.pace is None or evidence.pace <= limits.slowest:
        return False
    words_alone = all(isinstance(command, Control) for command in meaning.commands)
    far_ahead = (
        evidence.fit is not None
        and evidence.margin is not None
        and evidence.fit >= limits.far_fit
        and evidence.margin >= limits.far_margin
    )
    return not (words_alone and far_ahead)


def now_possible(evidence: Evidence, automaton: Automaton, context: Context) -> Evidence:
    """Leave out phrases that can mean nothing at this moment, such as "yes" without a question.

    What they were ahead by is taken off the fit of the phrase that is left, and the margin is its lead over
    the next one that could be meant.
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
    """Return about how many tokens a phrase takes, with the one that ends it: what a fit is a mean over."""
    return 1 + len(" ".join(words)) / _LETTERS_A_TOKEN


def _below(number: float | None, limit: float) -> bool:
    """Whether a number that the recogniser gave falls short; one that is no number always does."""
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
