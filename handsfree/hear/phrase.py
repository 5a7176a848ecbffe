"""The embedded recogniser: the packaged neural model, able to say nothing but the grammar."""

from __future__ import annotations

import math
import time
from collections.abc import Callable, Hashable, Sequence
from dataclasses import dataclass, replace

import numpy as np

from handsfree.hear.beam import FAR_BEHIND, ROWS, Finished, search
from handsfree.hear.heard import SAMPLERATE_HZ, Alternative, Hearing, Samples, Utterance, Wanted, always
from handsfree.hear.phrase_model import Floats, PhraseModel
from handsfree.hear.tokens import AllowedTokens
from handsfree.understand import Automaton, Letters, Replies, Spellings, load_spellings, settles

_BASE_S = 0.158
_LETTER_S = 0.069
_SPREAD = 0.32


def expected_s(words: Sequence[str]) -> float:
    """Seconds that words take at an ordinary pace.

    >>> round(expected_s(["cylinder", "three", "top", "eighteen"]), 2)
    1.81
    """
    return _BASE_S + _LETTER_S * sum(len(word) for word in words)


def pace(words: Sequence[str], spoken_s: float) -> float:
    """Logarithm of how much longer the sound is than the words take; 0 is an ordinary pace."""
    return math.log(max(spoken_s, 0.05) / expected_s(words))


def pace_logp(words: Sequence[str], spoken_s: float) -> float:
    """Log-probability of the pace, up to a constant: 0 at best, less the odder it is."""
    return -0.5 * (pace(words, spoken_s) / _SPREAD) ** 2


Words = tuple[str, ...]

MARGIN_ALONE = FAR_BEHIND  # given where no other meaning came near: the search drops what is further behind
_TOKENS_A_SECOND = 7.0  # nobody speaks faster; a decoder that goes on is repeating itself
_SPARE_TOKENS = 8
_TOKEN_BONUS = 0.6  # such decoders favour ending too soon; this pays a phrase back for each token
_SHORTEST_S = 0.25  # the encoder needs a few frames to stand on
_EDGE_S = 0.10  # silence left before and after speech
_REPLY_ROWS = 4  # replies are few
_NO_REPLY = 8.0  # so far behind unrestricted speech no reply can come to settle anything any more


@dataclass(frozen=True, slots=True, eq=False)
class _Encoded:
    """An utterance as the decoder takes it: (1, frames, 288), and how long it was spoken for."""

    utterance: Utterance
    hidden: Floats
    spoken_s: float
    most_tokens: int
    began: float


@dataclass(frozen=True, slots=True, eq=False)
class _Held:
    """A grammar that decoding is held to, and how it is searched: see `search`."""

    letters: Letters
    allowed: AllowedTokens
    favoured: frozenset[int] = frozenset()
    rows: int = ROWS
    give_up: float = np.inf


class PhraseRecogniser:
    """Phrase-limited decoding, behind the `Recogniser` protocol.

    Args:
        automaton: the narrowed grammar.
        meaning: gives the same value for word sequences that mean the same, so that the margin
            is the lead over another meaning and not over another way to say it.
        places: words that phrases naming a place begin with; the search never loses sight of them.
        model: the neural model; shared between grammars, since it costs time and memory.
        spellings: how words may be written; the usual ways when not given.
        own_pace: logarithm of how much slower than usual this person speaks.
        rows: hypotheses kept while searching; more for long phrases that nobody waits for.
    """

    def __init__(
        self,
        automaton: Automaton,
        meaning: Callable[[Words], Hashable] = lambda words: words,
        model: PhraseModel | None = None,
        places: Sequence[str] = (),
        spellings: Spellings | None = None,
        own_pace: float = 0.0,
        rows: int = ROWS,
    ) -> None:
        self._model = model or PhraseModel()
        self._spellings = spellings or load_spellings()
        self._usual_pace = math.exp(-own_pace)
        letters = Letters(automaton, self._spellings)
        allowed = AllowedTokens(letters, self._model.vocabulary)
        self._whole = _Held(letters, allowed, self._first_tokens(allowed, places), rows)
        self._replies: tuple[str, _Held] | None = None  # of the last question, by its id
        self._meaning = meaning
        encoder = self._model.encoder_name
        self.name = f"phrase/{'packaged' if encoder == 'model' else encoder}"

    def hear(self, utterance: Utterance, wanted: Wanted = always) -> Hearing:
        """Recognise one utterance: (n,) int16 at 16 kHz.

        Raises:
            NoLongerWantedError: within a token or two after `wanted` said no.
        """
        return self._decoded(self._encoded(utterance), self._whole, wanted)[0]

    def hear_reply(self, utterance: Utterance, replies: Replies, wanted: Wanted = always) -> Hearing:
        """Recognise what may be the answer to a question: among the replies first, else as ever.

        What is found among the replies is marked with the question, `Hearing.asked`: it is settled, and
        its margin is over the other replies alone.

        Raises:
            NoLongerWantedError: within a token or two after `wanted` said no.
        """
        sound = self._encoded(utterance)
        found, behind = self._decoded(sound, self._held_to(replies), wanted)
        if found.margin is not None and found.pace is not None and settles(behind, found.margin, found.pace):
            return replace(found, asked=replies.question)
        return self._decoded(sound, self._whole, wanted)[0]

    def _held_to(self, replies: Replies) -> _Held:
        if self._replies is None or self._replies[0] != replies.question:
            letters = Letters(replies.automaton, self._spellings)
            allowed = AllowedTokens(letters, self._model.vocabulary)
            held = _Held(letters, allowed, rows=_REPLY_ROWS, give_up=_NO_REPLY)
            self._replies = replies.question, held
        return self._replies[1]

    def _encoded(self, utterance: Utterance) -> _Encoded:
        began = time.perf_counter()
        samples = trimmed(utterance.samples)
        if len(samples) < SAMPLERATE_HZ * _SHORTEST_S:
            samples = np.pad(samples, (0, int(SAMPLERATE_HZ * _SHORTEST_S) - len(samples)))
        spoken_s = min(len(samples) / SAMPLERATE_HZ - 2 * _EDGE_S, utterance.end_s - utterance.start_s)
        spoken_s *= self._usual_pace
        most = int(len(samples) / SAMPLERATE_HZ * _TOKENS_A_SECOND) + _SPARE_TOKENS
        return _Encoded(utterance, self._model.encode(samples), spoken_s, most, began)

    def _decoded(self, sound: _Encoded, held: _Held, wanted: Wanted) -> tuple[Hearing, float]:
        """Decode held to a grammar; give, too, how far the words are behind unrestricted speech."""
        utterance, spoken_s = sound.utterance, sound.spoken_s
        found = search(
            self._model,
            sound.hidden,
            held.allowed,
            sound.most_tokens,
            held.favoured,
            rows=held.rows,
            give_up=held.give_up,
            wanted=wanted,
        )
        ranked = self._by_meaning(held.letters, found.finished, spoken_s)
        took_ms = (time.perf_counter() - sound.began) * 1000
        free = self._model.vocabulary.text(found.free)
        if not ranked:
            nothing = Hearing((), utterance.start_s, utterance.end_s, self.name, free=free, decode_ms=took_ms)
            return nothing, np.inf
        best = ranked[0]
        tokens = max(1, min(len(best[1].tokens), len(found.free) or 1) + 1)
        second = ranked[1] if len(ranked) > 1 else None
        hearing = Hearing(
            best[2],
            utterance.start_s,
            utterance.end_s,
            self.name,
            fit=(best[1].logp - found.free_logp) / tokens,
            margin=best[0] - second[0] if second else MARGIN_ALONE,
            runner_up=second[2] if second else None,
            alternatives=tuple(Alternative(words, logp) for logp, _, words in ranked),
            free=free,
            decode_ms=took_ms,
            pace=pace(best[2], spoken_s),
        )
        return hearing, found.free_logp - best[1].logp

    def _first_tokens(self, allowed_tokens: AllowedTokens, places: Sequence[str]) -> frozenset[int]:
        """First tokens of any spelling of these words."""
        forms = [f" {form}" for place in places for form in self._spellings.of((place,))]
        allowed = allowed_tokens.after(allowed_tokens.start)
        texts = {int(token): self._model.vocabulary.piece(int(token)) for token in allowed.tokens}
        return frozenset(
            token
            for token, text in texts.items()
            if len(text) > 2 and any(form.startswith(text) or text.startswith(form) for form in forms)
        )

    def _by_meaning(
        self, letters: Letters, finished: Sequence[Finished], spoken_s: float
    ) -> list[tuple[float, Finished, Words]]:
        """Join the phrases that mean the same: their probability is the sum of their spellings'.

        Phrases too far behind the best to matter are left out, which spares reading most of them.
        """
        groups: dict[Hashable, tuple[float, Finished, Words]] = {}
        best = -np.inf
        scored = [(phrase.logp + _TOKEN_BONUS * len(phrase.tokens), phrase) for phrase in finished]
        for at_most, phrase in sorted(scored, key=lambda each: -each[0]):
            if at_most < best - FAR_BEHIND:
                break  # its pace can only make it less likely
            words = letters.words(self._model.vocabulary.text(phrase.tokens))[0]
            score = at_most + pace_logp(words, spoken_s)
            best = max(best, score)
            key = self._meaning(words)
            known = groups.get(key)
            if known is None:
                groups[key] = (score, phrase, words)
            else:
                groups[key] = (float(np.logaddexp(known[0], score)), known[1], known[2])
        return sorted(groups.values(), key=lambda group: -group[0])


def trimmed(samples: Samples) -> Samples:
    """Cut silence off both ends, leaving a tenth of a second: (n,) int16 in and out."""
    frame = SAMPLERATE_HZ // 100
    count = len(samples) // frame
    if count == 0:
        return samples
    power = (samples[: count * frame].astype(np.float32).reshape(count, frame) ** 2).mean(axis=1)
    loud = np.flatnonzero(power > max(power.max() * 1e-4, 1.0))
    if len(loud) == 0:
        return samples
    edge = int(SAMPLERATE_HZ * _EDGE_S)
    return samples[max(0, loud[0] * frame - edge) : (loud[-1] + 1) * frame + edge]
