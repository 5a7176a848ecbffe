"""The beam against trying every phrase, with the real model on real sound.

The decoder's weights are int8 and the scale of its activations is taken over the whole batch, so a
row's score depends a little on the rows beside it: by up to 2.4 % of a phrase's log-probability on these
clips. Twice that is allowed here; a row that continued the wrong one would be off by far more.
"""

from __future__ import annotations

from itertools import pairwise
from pathlib import Path

import numpy as np
import pytest

from handsfree.hear import END, DecodingCancelledError, PhraseModel, read_sound
from handsfree.hear.beam import FAR_BEHIND, search
from handsfree.hear.phrase_model import log_softmax, scaled
from handsfree.hear.tokens import Allowed

BATCH = 0.05
FIXTURES = Path(__file__).parents[2] / "audio_fixtures"
CLIPS = {
    "kokoro-af_heart/05.ogg": " Cylinder one top, 21 thou.",  # said: cylinder one top, twenty one thou
    "flite-slt/00.ogg": " Cylinder one top, 35 thou.",
    "kokoro-af_heart/00.ogg": " Cylinder two second, 19 thou.",
}


@pytest.fixture(scope="module")
def model() -> PhraseModel:
    return PhraseModel()


class Listed:
    """A grammar that is nothing but a list of token sequences."""

    def __init__(self, sequences: list[tuple[int, ...]]) -> None:
        self._states: list[dict[int, int]] = [{}]
        self._final = {0: False}
        self.start = 0
        for sequence in sequences:
            state = 0
            for token in sequence:
                if token not in self._states[state]:
                    self._states.append({})
                    self._final[len(self._states) - 1] = False
                    self._states[state][token] = len(self._states) - 1
                state = self._states[state][token]
            self._final[state] = True

    def after(self, state: int) -> Allowed:
        arcs = self._states[state]
        return Allowed(np.array([*arcs], np.uint16), self._final[state])

    def step(self, state: int, token: int) -> int:
        return self._states[state][token]

    def written(self, token: int) -> str:
        return f"{token};"


def tokenized(model: PhraseModel, text: str) -> tuple[int, ...]:
    """A text in the model's tokens: join, again and again, the neighbours whose joined piece comes first."""
    ids = {}
    for token in range(32_767, 258, -1):  # the lowest id of a piece wins
        ids[model.vocabulary._pieces[token]] = token
    parts = [letter.replace(" ", "\u2581").encode() for letter in text]
    while True:
        pairs = [(ids[a + b], at) for at, (a, b) in enumerate(pairwise(parts)) if a + b in ids]
        if not pairs:
            return tuple(ids[part] for part in parts)
        _, at = min(pairs)
        parts[at : at + 2] = [parts[at] + parts[at + 1]]


def forced(model: PhraseModel, hidden, tokens: tuple[int, ...]) -> float:
    """The log-probability of a token sequence with its end, one forced token after the other."""
    logp, memory = model.begin(hidden)
    total = 0.0
    row = logp
    for token in tokens:
        total += float(row[token])
        after, memory = model.step(hidden, memory, [0], [token])
        row = after[0]
    return total + float(row[END])


PHRASES = [
    f" Cylinder {cylinder} {ring}, {value} thou."
    for cylinder in ("one", "two", "five", "nine")
    for ring in ("top", "second")
    for value in ("19", "21", "35", "90", "fifteen")
]


@pytest.fixture(scope="module", params=sorted(CLIPS))
def tried(request, model):
    """One clip, with the log-probability of every phrase by brute force."""
    hidden = model.encode(read_sound(FIXTURES / request.param))
    everything = {tokens: forced(model, hidden, tokens) for tokens in (tokenized(model, p) for p in PHRASES)}
    return request.param, hidden, everything


def test_the_best_phrase_of_the_beam_is_the_best_of_all(model, tried):
    clip, hidden, everything = tried
    found = search(model, hidden, Listed(list(everything)), longest=40)
    best = max(everything, key=everything.get)
    assert found.finished[0].tokens == best
    assert " " + model.vocabulary.text(best) == CLIPS[clip]


def test_every_phrase_that_is_found_has_the_probability_of_forcing_it(model, tried):
    _, hidden, everything = tried
    for rows in (1, 4, 60):
        found = search(model, hidden, Listed(list(everything)), longest=40, rows=rows)
        assert found.finished
        for phrase in found.finished:
            assert phrase.logp == pytest.approx(everything[phrase.tokens], rel=BATCH, abs=0.8)


def test_phrases_come_best_first_and_once(model, tried):
    _, hidden, everything = tried
    found = search(model, hidden, Listed(list(everything)), longest=40)
    scores = [phrase.logp for phrase in found.finished]
    assert scores == sorted(scores, reverse=True)
    assert len({phrase.tokens for phrase in found.finished}) == len(scores)


def test_what_is_not_found_was_dropped_for_want_of_rows_or_is_far_behind(model, tried):
    """So `cut` is an honest bound: nothing unseen is likelier than it says."""
    _, hidden, everything = tried
    for rows in (1, 2, 4):
        found = search(model, hidden, Listed(list(everything)), longest=40, rows=rows)
        best = found.finished[0].logp
        seen = {phrase.tokens for phrase in found.finished}
        for tokens, logp in everything.items():
            if tokens not in seen:
                assert logp <= max(found.cut, best - FAR_BEHIND) + BATCH * abs(logp)


def test_with_rows_for_all_nothing_near_is_missed(model, tried):
    _, hidden, everything = tried
    found = search(model, hidden, Listed(list(everything)), longest=40, rows=len(everything))
    best = max(everything.values())
    near = {tokens for tokens, logp in everything.items() if logp > best - FAR_BEHIND + BATCH * abs(logp)}
    assert near <= {phrase.tokens for phrase in found.finished}
    assert found.cut == -np.inf


def test_favoured_beginnings_are_never_lost_sight_of(model, tried):
    """Even with one row, and that taken by another beginning."""
    _, hidden, everything = tried
    other = tokenized(model, " Say again.")
    listed = Listed([*everything, other])
    odd = frozenset({other[0]})
    plain = search(model, hidden, listed, longest=40, rows=1)
    assert other not in {phrase.tokens for phrase in plain.finished}
    found = search(model, hidden, listed, longest=40, rows=1, favoured=odd)
    assert found.finished[0].tokens == plain.finished[0].tokens
    kept = {phrase.tokens: phrase.logp for phrase in found.finished}
    truth = forced(model, hidden, other)
    if truth > found.finished[0].logp - FAR_BEHIND:
        assert kept[other] == pytest.approx(truth, rel=BATCH, abs=0.2)


def test_the_free_row_is_plain_greedy_decoding(model, tried):
    _, hidden, everything = tried
    found = search(model, hidden, Listed(list(everything)), longest=40)
    logp, memory = model.begin(hidden)
    row, tokens, total = logp, [], 0.0
    while len(tokens) < 40:
        token = int(row.argmax())
        total += float(row[token])
        if token == END:
            break
        tokens.append(token)
        after, memory = model.step(hidden, memory, [0], [token])
        row = after[0]
    assert found.free == tuple(tokens)
    assert found.free_logp == pytest.approx(total, rel=BATCH, abs=0.2)


def test_the_longest_is_kept_to_and_nothing_unfinished_is_given(model, tried):
    _, hidden, everything = tried
    found = search(model, hidden, Listed(list(everything)), longest=3)
    assert found.steps == 3
    assert found.finished == []


def test_a_search_that_nobody_waits_for_stops(model, tried):
    _, hidden, everything = tried
    asked = []

    def after_three():
        asked.append(True)
        return len(asked) > 3

    with pytest.raises(DecodingCancelledError):
        search(model, hidden, Listed(list(everything)), longest=40, cancelled=after_three)
    assert len(asked) == 4


class Spoken:
    """A model that says how likely each token is after what was written; all else is unlikely."""

    def __init__(self, after: dict[tuple[int, ...], dict[int, float]]) -> None:
        self._after = after

    def begin(self, _hidden):
        return self._logp(()), [()]

    def step(self, _hidden, memory, parents, tokens):
        written = [(*memory[parent], token) for parent, token in zip(parents, tokens, strict=True)]
        return np.stack([self._logp(each) for each in written]), written

    def _logp(self, written):
        known = self._after.get(written, {})
        chances = np.full(20, (1 - sum(known.values())) / 20)
        for token, chance in known.items():
            chances[token] += chance
        return np.log(chances)


@pytest.mark.quick
def test_a_phrase_that_is_freely_written_is_found_though_the_beam_lost_it():
    """Two beginnings are likelier than it before they turn out to end badly."""
    spoken = Spoken(
        {
            (): {5: 0.5, 6: 0.4},
            (5,): {7: 0.25},
            (5, 7): {END: 0.95},
            (6,): {8: 0.49, 9: 0.45},
            (6, 8): {11: 0.9},
            (6, 9): {11: 0.9},
        }
    )
    allowed = Listed([(5, 7), (6, 8), (6, 9)])
    found = search(spoken, None, allowed, longest=9, rows=2)
    assert found.free == (5, 7)
    assert found.finished[0].tokens == (5, 7)
    assert found.finished[0].logp == pytest.approx(found.free_logp)
    assert [phrase.tokens for phrase in found.finished].count((5, 7)) == 1
    wide = search(spoken, None, allowed, longest=9, rows=8)
    assert wide.finished[0] == found.finished[0]
    assert [phrase.tokens for phrase in wide.finished].count((5, 7)) == 1
    for other in ([(5, 7, 8), (6, 8), (6, 9)], [(5, 10), (6, 8), (6, 9)]):  # begun, or not of the grammar
        assert (5, 7) not in {f.tokens for f in search(spoken, None, Listed(other), longest=9).finished}


def test_a_grammar_of_nothing_finds_nothing_but_still_decodes_freely(model, tried):
    _, hidden, _ = tried
    found = search(model, hidden, Listed([]), longest=40)
    assert found.finished == []
    assert found.free


# --- the model's own parts ----------------------------------------------------------------------


def test_samples_are_scaled_to_half_of_full_scale_and_silence_stays_silence():
    assert np.abs(scaled(np.array([0, 100, -400], np.int16))).max() == pytest.approx(0.5)
    assert np.abs(scaled(np.array([-32768, 32767], np.int16))).max() == pytest.approx(0.5)
    silence = scaled(np.zeros(10, np.int16))
    assert silence.dtype == np.float32
    assert not silence.any()
    assert scaled(np.zeros(0, np.int16)).shape == (0,)


def test_log_probabilities_sum_to_one_for_large_and_small_scores():
    logits = np.array([[1000.0, 1001.0, -1000.0], [0.0, 0.0, 0.0]], np.float32)
    assert np.exp(log_softmax(logits)).sum(axis=-1) == pytest.approx([1.0, 1.0])


def test_rows_that_hold_the_same_go_on_the_same_and_others_do_not_change_them(model, tried):
    _, hidden, everything = tried
    one, other = list(everything)[:2]
    _, memory = model.begin(hidden)
    together, _ = model.step(hidden, memory, [0, 0, 0], [one[0], other[1], one[0]])
    _, memory = model.begin(hidden)
    alone, _ = model.step(hidden, memory, [0], [one[0]])
    assert together[0] == pytest.approx(together[2], abs=1e-4)
    likely = alone[0] > -5
    assert together[0][likely] == pytest.approx(alone[0][likely], abs=0.5)
    assert together[0].argmax() == alone[0].argmax()
