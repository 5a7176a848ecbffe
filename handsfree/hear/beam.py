"""Beam search held to the grammar, with one more row that decodes freely beside it.

Hypotheses are token sequences; each carries one state of the letter automaton, which is itself a
set of grammar states, so that one text is never held twice. The free row says how well unrestricted
speech would explain the sound; it costs next to nothing in the same batch.
"""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np

from handsfree.hear.phrase_model import Floats, PhraseModel
from handsfree.hear.tokens import END, Allowed, AllowedTokens

ROWS = 4
FAR_BEHIND = 12.0  # a hypothesis this much below the best finished one can't matter to any decision


@dataclass(frozen=True, slots=True)
class Finished:
    """A whole phrase: its tokens without the end mark, and its log-probability with it."""

    tokens: tuple[int, ...]
    logp: float


@dataclass(slots=True)
class Searched:
    """What a search found. `free` is the unrestricted decoding, `free_logp` its log-probability.

    cut: the best log-probability of a hypothesis that was dropped for want of rows; nothing that
    was not found can be likelier than that.
    """

    finished: list[Finished] = field(default_factory=list)
    free: tuple[int, ...] = ()
    free_logp: float = 0.0
    cut: float = -np.inf
    steps: int = 0


@dataclass(frozen=True, slots=True)
class _Hypothesis:
    logp: float
    row: int
    token: int
    state: int
    tokens: tuple[int, ...]


def search(
    model: PhraseModel, hidden: Floats, allowed: AllowedTokens, longest: int, rows: int = ROWS
) -> Searched:
    """Find the likeliest phrases of the grammar for encoded speech.

    Args:
        model: encoder and decoder.
        hidden: (1, frames, 288) as the encoder gave it.
        allowed: the grammar, token by token.
        longest: most tokens to try.
        rows: hypotheses kept.
    """
    found = Searched()
    first, memory = model.begin(hidden, rows + 1)
    logp = first[None]
    live = [_Hypothesis(0.0, 0, -1, allowed.start, ())]
    free_row: int | None = 0
    for step in range(longest):
        found.steps = step + 1
        options = [(h, allowed.after(h.state)) for h in live]
        for h, option in options:
            if option.final and h.tokens:
                found.finished.append(Finished(h.tokens, h.logp + float(logp[h.row, END])))
        live, cut = _best_next(options, logp, rows)
        found.cut = max(found.cut, cut)
        best = max((f.logp for f in found.finished), default=-np.inf)
        live = [h for h in live if h.logp > best - FAR_BEHIND]
        free_token = END
        if free_row is not None:
            free_token = int(logp[free_row].argmax())
            found.free_logp += float(logp[free_row, free_token])
            if free_token == END:
                free_row = None
            else:
                found.free = (*found.free, free_token)
        if not live and (free_row is None or not found.finished):
            break
        parents = [h.row for h in live]
        tokens = [h.token for h in live]
        if free_row is not None:
            parents.append(free_row)
            tokens.append(free_token)
        logp, memory = model.step(hidden, memory, parents, tokens)
        live = [_Hypothesis(h.logp, row, h.token, h.state, h.tokens) for row, h in enumerate(live)]
        free_row = len(live) if free_row is not None else None
    found.finished.sort(key=lambda f: -f.logp)
    return found


def _best_next(
    options: list[tuple[_Hypothesis, Allowed]], logp: Floats, rows: int
) -> tuple[list[_Hypothesis], float]:
    """The `rows` likeliest continuations, and the likelihood of the best one that was dropped."""
    scores = [h.logp + logp[h.row, option.tokens] for h, option in options if len(option.tokens)]
    if not scores:
        return [], -np.inf
    sources = [(h, option) for h, option in options if len(option.tokens)]
    joined = np.concatenate(scores)
    offsets = np.cumsum([0, *(len(s) for s in scores)])
    keep = min(rows + 1, len(joined))
    top = np.argpartition(-joined, keep - 1)[:keep]
    top = top[np.argsort(-joined[top])]
    chosen = []
    for index in top[:rows]:
        which = int(np.searchsorted(offsets, index, side="right")) - 1
        h, option = sources[which]
        at = int(index - offsets[which])
        token = int(option.tokens[at])
        chosen.append(
            _Hypothesis(float(joined[index]), h.row, token, int(option.states[at]), (*h.tokens, token))
        )
    dropped = float(joined[top[rows]]) if len(top) > rows else -np.inf
    return chosen, dropped
