"""The embedded recogniser: the packaged neural model, constrained to the grammar."""

from __future__ import annotations

import math
import time
from collections.abc import Callable, Hashable, Sequence
from dataclasses import dataclass, replace

import numpy as np

from handsfree.hear.beam import FAR_BEHIND, ROWS, Finished, search
from handsfree.hear.heard import SAMPLERATE_HZ, Alternative, Hearing, Samples, Utterance, never
from handsfree.hear.phrase_model import Floats, PhraseModel
from handsfree.hear.tokens import AllowedTokens
from handsfree.understand import Automaton, Letters, Replies, Spellings, load_spellings, settles

_BASE_S = 0.158
_LETTER_S = 0.069
_SPREAD = 0.32


def expected_s(words: Sequence[str]) -> float:
    """Return the duration of words at an ordinary pace, in seconds.

    >>> round(expected_s(["cylinder", "three", "top", "eighteen"]), 2)
    1.81
    """
    return _BASE_S + _LETTER_S * sum(len(word) for word in words)


def pace(words: Sequence[str], spoken_s: float) -> float:
    """Return the logarithm of the ratio of spoken to expected duration; 0 is an ordinary pace."""
    return math.log(max(spoken_s, 0.05) / expected_s(words))


def pace_logp(words: Sequence[str], spoken_s: float) -> float:
    """Return the log-probability of the pace, up to a constant: 0 at best."""
    return -0.5 * (pace(words, spoken_s) / _SPREAD) ** 2


def told_pace(words: Sequence[str], spoken_s: float, loud_s: float) -> float:
    """Return the pace of words in sound of which only a stretch is about as loud as its loudest part.

    Talk in the background lengthens an utterance and is quieter than the speaker. More words of the speaker
    are about as loud as those that were heard. So the loud stretch counts instead of all the sound, with some
    time for soft beginnings and ends, but never as quicker than usual. A stretch that is too short for the
    words was a blow, not the speaker; one in which a short word more has room proves nothing.

    >>> round(told_pace(["roger"], 3.6, 0.4), 2), round(told_pace(["roger"], 3.6, 0.1), 2)
    (0.33, 1.97)
    """
    whole = pace(words, spoken_s)
    loud, with_ends = pace(words, loud_s), pace(words, loud_s + _SOFT_S)
    if loud_s >= spoken_s or loud < _TOO_SHORT or with_ends > _ROOM_FOR_MORE:
        return whole
    return min(whole, max(0.0, with_ends))


Words = tuple[str, ...]

MARGIN_ALONE = FAR_BEHIND  # margin when no rival survived: the search prunes at FAR_BEHIND
_TOKENS_A_SECOND = 7.0  # nobody speaks faster; a longer output is the decoder repeating itself
_SPARE_TOKENS = 8
_TOKEN_BONUS = 0.6  # length bonus: the decoder is biased towards short outputs
_SHORTEST_S = 0.25  # the encoder needs a few frames
_FRAME = SAMPLERATE_HZ // 100
_EDGE_S = 0.10  # silence left before and after speech
_REPLY_ROWS = 4  # replies are few
_LOUD_DB = 10.0  # the speaker's own words are within it of the loudest
_SYLLABLE = 10  # frames of 10 ms over which the level is smoothed
_SOFT_S = 0.3  # of words, beginnings and ends that are softer
_TOO_SHORT = -0.7  # half the time that words take
_ASTRAY = 0.2  # a fit above it: the free writing lost itself in the talk, and words may be lost in it, too
_ROOM_FOR_MORE = 0.45  # "go twelve" of which only "twelve" is heard
_NO_REPLY = 8.0  # give up when free decoding leads every reply by this much


@dataclass(frozen=True, slots=True, eq=False)
class _Encoded:
    """An utterance for the decoder: (1, frames, 288), the duration of its speech and of its loud stretch."""

    utterance: Utterance
    hidden: Floats
    spoken_s: float
    loud_s: float
    most_tokens: int
    began: float


@dataclass(frozen=True, slots=True, eq=False)
class _Held:
    """A grammar that constrains decoding, and its search parameters: see `search`."""

    letters: Letters
    allowed: AllowedTokens
    favoured: frozenset[int] = frozenset()
    rows: int = ROWS
    give_up: float = np.inf


class PhraseRecogniser:
    """Phrase-limited decoding, behind the `Recogniser` protocol.

    Args:
        automaton: the narrowed grammar.
        meaning: returns the same value for word sequences with the same meaning, so that the margin is the
            lead over another meaning and not over another wording.
        places: first words of phrases that name a place; some rows are always reserved for them.
        model: the neural model; shared between grammars, since it costs time and memory.
        spellings: the written forms of words; the usual ones when not given.
        own_pace: logarithm of this person's duration of speech relative to the usual one.
        rows: beam width; wider for long phrases whose latency doesn't matter.
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

    def hear(self, utterance: Utterance, cancelled: Callable[[], bool] = never) -> Hearing:
        """Recognise one utterance: (n,) int16 at 16 kHz.

        Raises:
            DecodingCancelledError: within a token or two after `cancelled` said yes.
        """
        return self._decoded(self._encoded(utterance), self._whole, cancelled)[0]

    def hear_reply(
        self, utterance: Utterance, replies: Replies, cancelled: Callable[[], bool] = never
    ) -> Hearing:
        """Recognise an utterance that may answer a question: as one of the replies, else as usual.

        A reply found is marked with the question, `Hearing.asked`. It is final, and its margin is the lead
        over the other replies alone.

        Raises:
            DecodingCancelledError: within a token or two after `cancelled` said yes.
        """
        sound = self._encoded(utterance)
        found, behind = self._decoded(sound, self._held_to(replies), cancelled)
        if found.margin is not None and found.pace is not None and settles(behind, found.margin, found.pace):
            return replace(found, asked=replies.question)
        return self._decoded(sound, self._whole, cancelled)[0]

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
        loud_s = loud_stretch_s(samples) * self._usual_pace
        return _Encoded(utterance, self._model.encode(samples), spoken_s, loud_s, most, began)

    def _decoded(self, sound: _Encoded, held: _Held, cancelled: Callable[[], bool]) -> tuple[Hearing, float]:
        """Decode with a grammar; also return the lead of unrestricted speech over the words."""
        utterance, spoken_s = sound.utterance, sound.spoken_s
        found = search(
            self._model,
            sound.hidden,
            held.allowed,
            sound.most_tokens,
            held.favoured,
            rows=held.rows,
            give_up=held.give_up,
            cancelled=cancelled,
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
        fit = (best[1].logp - found.free_logp) / tokens
        loud_s = sound.loud_s if fit <= _ASTRAY else spoken_s
        hearing = Hearing(
            best[2],
            utterance.start_s,
            utterance.end_s,
            self.name,
            fit=fit,
            margin=best[0] - second[0] if second else MARGIN_ALONE,
            runner_up=second[2] if second else None,
            alternatives=tuple(Alternative(words, logp) for logp, _, words in ranked),
            free=free,
            decode_ms=took_ms,
            pace=told_pace(best[2], spoken_s, loud_s),
        )
        return hearing, found.free_logp - best[1].logp

    def _first_tokens(self, allowed_tokens: AllowedTokens, places: Sequence[str]) -> frozenset[int]:
        """Return the first tokens of all spellings of these words."""
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
        """Merge candidates with the same meaning, adding the probabilities of their spellings.

        Candidates too far behind the best are left out, so that most need not be interpreted.
        """
        groups: dict[Hashable, tuple[float, Finished, Words]] = {}
        best = -np.inf
        scored = [(phrase.logp + _TOKEN_BONUS * len(phrase.tokens), phrase) for phrase in finished]
        for at_most, phrase in sorted(scored, key=lambda each: -each[0]):
            if at_most < best - FAR_BEHIND:
                break  # the pace can only lower its score
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


def loud_stretch_s(samples: Samples) -> float:
    """Return the time from the first to the last sound about as loud as the loudest, in seconds.

    samples: (n,) int16 at 16 kHz. The level is smoothed, so that a click is no sound of its own.
    """
    power = _power(samples)
    if len(power) == 0:
        return 0.0
    smooth = np.convolve(power, np.ones(_SYLLABLE, np.float32), "same")[: len(power)]
    loud = np.flatnonzero(smooth > smooth.max() * 10 ** (-_LOUD_DB / 10))
    return float(loud[-1] - loud[0] + 1) * _FRAME / SAMPLERATE_HZ if len(loud) else 0.0


def _power(samples: Samples) -> Floats:
    """Return the power of whole frames of 10 ms: (n,) to (n // 160,)."""
    count = len(samples) // _FRAME
    frames = samples[: count * _FRAME].astype(np.float32).reshape(count, _FRAME)
    return np.asarray((frames**2).mean(axis=1), np.float32)


def trimmed(samples: Samples) -> Samples:
    """Return samples with at most a tenth of a second of silence at both ends: (n,) int16 in and out."""
    frame = _FRAME
    power = _power(samples)
    if len(power) == 0:
        return samples
    loud = np.flatnonzero(power > max(power.max() * 1e-4, 1.0))
    if len(loud) == 0:
        return samples
    edge = int(SAMPLERATE_HZ * _EDGE_S)
    return samples[max(0, loud[0] * frame - edge) : (loud[-1] + 1) * frame + edge]
