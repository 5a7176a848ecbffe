"""Free decoding: the networks' transcript without a grammar."""

from __future__ import annotations

from dataclasses import dataclass

from handsfree.hear import END, SAMPLERATE_HZ, PhraseModel, Samples

_TOKENS_A_SECOND, _SPARE_TOKENS = 7, 8


@dataclass(frozen=True, slots=True)
class Overheard:
    """The text, the mean log-probability of a token, and whether decoding finished."""

    text: str
    sureness: float
    ended: bool


def overheard(model: PhraseModel, samples: Samples) -> Overheard:
    """Decode greedily without a grammar: (n,) int16 at 16 kHz."""
    hidden = model.encode(samples)
    logp, memory = model.begin(hidden)
    tokens: list[int] = []
    total = 0.0
    for _ in range(len(samples) * _TOKENS_A_SECOND // SAMPLERATE_HZ + _SPARE_TOKENS):
        token = int(logp.argmax())
        total += float(logp[token])
        if token == END:
            return Overheard(model.vocabulary.text(tuple(tokens)), total / (len(tokens) + 1), True)
        tokens.append(token)
        rows, memory = model.step(hidden, memory, [0], [token])
        logp = rows[0]
    return Overheard(model.vocabulary.text(tuple(tokens)), total / (len(tokens) + 1), False)
