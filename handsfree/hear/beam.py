"""Beam search constrained to the grammar, with an extra row of free decoding.

Hypotheses are token sequences. Each carries one state of the letter automaton, which is a set of grammar
states, so that no text is held twice. The free row measures how well unrestricted speech explains the
sound; in the same batch it costs almost nothing. If its text is a phrase of the grammar, it counts as a
finished phrase even if the search had pruned it.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field, replace

import numpy as np

from handsfree.hear.heard import DecodingCancelledError, never
from handsfree.hear.phrase_model import Floats, PhraseModel
from handsfree.hear.tokens import END, Allowed, AllowedTokens
from handsfree.understand import LetterState

ROWS = 8
FAVOURED_ROWS = 2  # reserved for phrases that begin with a place, even if others are likelier at the start
FAR_BEHIND = 9.0  # prune hypotheses this much below the best finished one: they can't change a decision


@dataclass(frozen=True, slots=True)
class Finished:
    """A finished phrase: its tokens without the end token, and its log-probability including that."""

    tokens: tuple[int, ...]
    logp: float


@dataclass(slots=True)
class Searched:
    """Result of a search. `free` is the unrestricted decoding, `free_logp` its log-probability.

    cut: the best log-probability of a hypothesis pruned for lack of rows: an upper bound for every phrase
    that was not found.
    """

    finished: list[Finished] = field(default_factory=list)
    free: tuple[int, ...] = ()
    free_logp: float = 0.0
    cut: float = -np.inf
    steps: int = 0


@dataclass(frozen=True, slots=True)
class _Hypothesis:
    """An unfinished phrase; `row` and `state` are its parent's until the model has taken its token."""

    logp: float
    row: int
    token: int
    state: LetterState
    tokens: tuple[int, ...]
    favoured: bool = False
    text: str = ""


def search(
    model: PhraseModel,
    hidden: Floats,
    allowed: AllowedTokens,
    longest: int,
    favoured: frozenset[int] = frozenset(),
    rows: int = ROWS,
    give_up: float = np.inf,
    cancelled: Callable[[], bool] = never,
) -> Searched:
    """Return the likeliest phrases of the grammar for encoded speech.

    Args:
        model: encoder and decoder.
        hidden: (1, frames, 288), the encoder's output.
        allowed: the grammar, token by token.
        longest: most tokens to try.
        favoured: first tokens of the phrases for which some rows are reserved.
        rows: beam width.
        give_up: stop early when free decoding leads every phrase by this log-probability.
        cancelled: called before each token; True cancels the search.

    Raises:
        DecodingCancelledError: `cancelled` returned True.
    """
    found = Searched()
    kept = FAVOURED_ROWS if favoured else 0
    first, memory = model.begin(hidden)
    logp = first[None]
    live = [_Hypothesis(0.0, 0, -1, allowed.start, ())]
    free_row: int | None = 0
    free_state: LetterState | None = allowed.start
    for step in range(longest):
        if cancelled():
            raise DecodingCancelledError
        found.steps = step + 1
        options = [(h, allowed.after(h.state)) for h in live]
        for h, option in options:
            if option.final and h.tokens:
                found.finished.append(Finished(h.tokens, h.logp + float(logp[h.row, END])))
        live, cut = _best_next(options, logp, rows, favoured, kept, allowed.written)
        found.cut = max(found.cut, cut)
        best = max((f.logp for f in found.finished), default=-np.inf)
        live = [h for h in live if h.logp > best - FAR_BEHIND]
        free_token = END
        if free_row is not None:
            free_token = int(logp[free_row].argmax())
            found.free_logp += float(logp[free_row, free_token])
            if free_token == END:
                free_row = None
                if free_state is not None and found.free and allowed.after(free_state).final:
                    _add(found, Finished(found.free, found.free_logp))
            else:
                found.free = (*found.free, free_token)
                if free_state is not None and free_token in allowed.after(free_state).tokens:
                    free_state = allowed.step(free_state, free_token)
                else:
                    free_state = None
        if not live and (free_row is None or not found.finished):
            break
        if found.free_logp - max([best, *(h.logp for h in live)]) > give_up:
            break
        parents = [h.row for h in live]
        tokens = [h.token for h in live]
        if free_row is not None:
            parents.append(free_row)
            tokens.append(free_token)
        logp, memory = model.step(hidden, memory, parents, tokens)
        live = [replace(h, row=row, state=allowed.step(h.state, h.token)) for row, h in enumerate(live)]
        free_row = len(live) if free_row is not None else None
    found.finished.sort(key=lambda f: -f.logp)
    return found


def _add(found: Searched, phrase: Finished) -> None:
    if all(phrase.tokens != other.tokens for other in found.finished):
        found.finished.append(phrase)


def _best_next(
    options: list[tuple[_Hypothesis, Allowed]],
    logp: Floats,
    rows: int,
    favoured: frozenset[int],
    kept: int,
    written: Callable[[int], str],
) -> tuple[list[_Hypothesis], float]:
    """Return the likeliest continuations, and the log-probability of the best pruned one.

    The best `rows` are kept. Of those that differ only in commas and hyphens just the likeliest stays, so
    that they don't crowd out other meanings. Then hypotheses with a favoured beginning are added, up to
    `kept` of them.
    """
    sources = [(h, option) for h, option in options if len(option.tokens)]
    if not sources:
        return [], -np.inf
    joined = np.concatenate([h.logp + logp[h.row, option.tokens] for h, option in sources])
    offsets = np.cumsum([0, *(len(option.tokens) for _, option in sources)])
    order = _ranked(joined, 4 * rows)

    def made(index: int) -> _Hypothesis:
        which = int(np.searchsorted(offsets, index, side="right")) - 1
        h, option = sources[which]
        at = index - int(offsets[which])
        token = int(option.tokens[at])
        begins_well = h.favoured if h.tokens else token in favoured
        return _Hypothesis(
            float(joined[index]),
            h.row,
            token,
            h.state,
            (*h.tokens, token),
            begins_well,
            h.text + written(token),
        )

    chosen: list[_Hypothesis] = []
    texts: set[str] = set()
    taken: list[int] = []
    dropped = -np.inf
    for index in order:
        candidate = made(index)
        if candidate.text in texts:
            continue
        if len(chosen) == rows:
            dropped = candidate.logp
            break
        texts.add(candidate.text)
        chosen.append(candidate)
        taken.append(index)
    lacking = kept - sum(h.favoured for h in chosen)
    if lacking > 0:
        mask = np.concatenate(
            [
                np.full(len(option.tokens), h.favoured)
                if h.tokens
                else np.isin(option.tokens, list(favoured))
                for h, option in sources
            ]
        )
        mask[taken] = False
        chosen += [made(index) for index in _ranked(np.where(mask, joined, -np.inf), lacking) if mask[index]]
    return chosen, dropped


def _ranked(scores: Floats, count: int) -> list[int]:
    """Return the indices of the `count` highest scores, best first."""
    count = min(count, len(scores))
    top = np.argpartition(-scores, count - 1)[:count]
    return [int(index) for index in top[np.argsort(-scores[top])]]
