"""Learns an adaptation from recordings of known phrases, and checks that it helps.

Everything learned is judged on held-out recordings (cross-validation): the recordings are split into parts,
and each part is recognised with the adaptation learned from the others. Forms and pace are kept only if that
costs less than no adaptation; a question costs one, a wrong value a hundred.

What was said in a session can be learned from where a reading that stood tells the words. Pure.

The decision thresholds for one person come from the confidence of their recordings.

A wrong value costs as much as a hundred questions. So one wrong result among a person's recordings is enough
to ask more often. Asking less often needs proof that the additionally accepted results are wrong less than
once in a hundred: without a wrong one it takes some 380 recordings between the old threshold and the new one
until the upper end of the 95 % interval is below that. Twenty phrases never loosen a threshold.
"""

from __future__ import annotations

import random
import statistics
from collections import Counter, defaultdict
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from typing import Protocol

from handsfree.adapt.adaptation import MOST_PACE, Adaptation
from handsfree.adapt.spellings import Spelling, collides, found_spelling
from handsfree.hear import Hearing
from handsfree.journal import Draft
from handsfree.plan import Check, Position
from handsfree.recordings import ASKED, IGNORED, RIGHT, WRONG, wilson
from handsfree.session import Became, Spoken
from handsfree.understand import Bracket, Command, Listening, Reading, Spellings, Thresholds, meanings

WRONG_COSTS = 100
"""Cost of a wrong value, in questions."""
STRICTEST_MARGIN, STRICTEST_FIT = 6.0, -0.1
"""Beyond this margin a fifth of the correct hearings in noise would be asked about. Beyond this fit the
fit tells nothing: 1 in 70 correct hearings is below it, and most wrong ones are not."""

_LOOSER_MARGINS = (1.0, 1.5, 2.0)
_LOOSER_FITS = (-1.2, -1.0, -0.8)
_ABOVE = 0.01


@dataclass(frozen=True, slots=True)
class Weighed:
    """The confidence of one recording's likeliest meaning, and whether that is right."""

    fit: float
    margin: float
    right: bool


def cost(weighed: Sequence[Weighed], limits: Thresholds) -> int:
    """Return the cost: one for a question, a hundred for a wrong value."""
    return sum(
        (0 if one.right else WRONG_COSTS) if _accepted(one, limits) else int(one.right) for one in weighed
    )


def limits_for(
    weighed: Sequence[Weighed], usual: Thresholds | None = None, *, looser: bool = True
) -> Thresholds:
    """Return the cheapest thresholds on these recordings, at least as strict as the usual ones.

    They are looser only by the rule above. Of equally cheap thresholds those nearest to the usual ones win.

    looser: false where recordings that are heard wrong may be missing, so that nothing proves the rule.
    """
    usual = usual or Thresholds()
    wrong = [one for one in weighed if not one.right and _accepted(one, usual)]
    if not wrong:
        return _looser(weighed, usual) if looser else usual
    margins = [usual.sure_margin, *_just_above((one.margin for one in wrong), STRICTEST_MARGIN)]
    fits = [usual.sure_fit, *_just_above((one.fit for one in wrong), STRICTEST_FIT)]
    choices = [replace(usual, sure_fit=fit, sure_margin=margin) for fit in fits for margin in margins]
    return min(choices, key=lambda limits: (cost(weighed, limits), limits.sure_margin, limits.sure_fit))


def _looser(weighed: Sequence[Weighed], usual: Thresholds) -> Thresholds:
    for margin in _LOOSER_MARGINS:
        if _proven(weighed, usual, replace(usual, sure_margin=margin)):
            usual = replace(usual, sure_margin=margin)
            break
    for fit in _LOOSER_FITS:
        if _proven(weighed, usual, replace(usual, sure_fit=fit)):
            return replace(usual, sure_fit=fit)
    return usual


def _proven(weighed: Sequence[Weighed], usual: Thresholds, looser: Thresholds) -> bool:
    """Return whether the additionally accepted results are wrong less than once in a hundred, at 95 %."""
    between = [one for one in weighed if _accepted(one, looser) and not _accepted(one, usual)]
    _, most = wilson(sum(not one.right for one in between), len(between))
    return most < 1 / WRONG_COSTS


def _just_above(numbers: Iterable[float], most: float) -> list[float]:
    return sorted({round(n + _ABOVE, 2) for n in numbers if n + _ABOVE <= most})


def _accepted(one: Weighed, limits: Thresholds) -> bool:
    return one.fit >= limits.sure_fit and one.margin >= limits.sure_margin


PARTS = 5
"""Number of parts of the cross-validation."""
FEWEST = 8
"""Least number of recordings to learn from."""

_PACE_TRUST = 5  # recordings at which half of the measured pace is used (shrinkage)
_LEAST_PACE = 0.05
_USUAL = Thresholds()
_OPEN = Thresholds(sure_fit=_USUAL.chatter_fit, sure_margin=0.0)  # accepts all that could ever be acted on
_NO_HELP = "it didn't help on recordings held back"

Hearings = tuple[Hearing, ...]
Words = tuple[str, ...]


@dataclass(frozen=True)
class OwnRecording:
    """A recording of a known phrase.

    key: its name for the decoder. said: the grammar's words; empty for chatter. words: all words of the
    grammar in use. phrases: words that stand together in the grammar.
    """

    key: str
    said: tuple[str, ...]
    words: tuple[str, ...] = field(repr=False)
    phrases: frozenset[tuple[str, ...]] = field(default=frozenset(), repr=False)


class Decoder(Protocol):
    """Recognises samples with or without an adaptation."""

    def hear(self, sample: OwnRecording, adaptation: Adaptation) -> Hearings:
        """Return the hearings of a sample's utterances."""

    def result(self, sample: OwnRecording, hearings: Hearings, thresholds: Thresholds) -> tuple[str, bool]:
        """Return the result (right, wrong, asked or ignored), and whether the likeliest command was right."""


@dataclass(frozen=True)
class Learned:
    """The learned adaptation, and the counts of results on held-out recordings without and with it.

    refused: rejected forms, with the reason. unlike: samples that were heard as something quite different
    from their phrase.
    """

    adaptation: Adaptation
    before: Mapping[str, int]
    after: Mapping[str, int]
    refused: Mapping[Spelling, str] = field(default_factory=dict)
    unlike: tuple[str, ...] = ()


def learn(
    samples: Sequence[OwnRecording],
    decoder: Decoder,
    spellings: Spellings,
    seed: int = 1,
    told: Callable[[str], object] = lambda _: None,
    *,
    looser: bool = True,
) -> Learned:
    """Learn forms, pace and thresholds from recordings; `told` receives progress messages.

    looser: whether the thresholds may become looser (`limits_for`).
    """
    work = _Work(samples, decoder, seed, looser=looser)
    told("Hearing them as everybody's are heard")
    usual = [decoder.hear(sample, Adaptation()) for sample in samples]
    told("Learning how words are written down")
    forms = _SpellingsFound.among(samples, usual, spellings)
    trial = work.held_back(usual, lambda train: Adaptation(forms.of(train)))
    forms = forms.judged(work.gains(usual, trial))
    best = work.held_back(usual, lambda train: Adaptation(forms.of(train)))
    if not forms.kept or work.cost(best) >= work.cost(usual):
        forms, best = forms.dropped(), usual
    told("Learning the pace")
    paced = work.held_back(usual, lambda train: Adaptation(forms.of(train), _pace(samples, usual, train)))
    pace = 0.0
    if work.cost(paced) < work.cost(best):
        best, pace = paced, _pace(samples, usual, range(len(samples)))
    limits = work.limits(best, range(len(samples)))
    adaptation = Adaptation(
        forms.of(range(len(samples))), pace, limits.sure_fit, limits.sure_margin, recordings=len(samples)
    )
    unlike = [
        sample.key
        for sample, one in zip(samples, best, strict=True)
        if decoder.result(sample, one, limits)[0] == WRONG
    ]
    return Learned(adaptation, work.counts(usual), work.counts_held_back(best), forms.refused, tuple(unlike))


class _Work:
    """The samples, split into parts that are held out in turn."""

    def __init__(self, samples: Sequence[OwnRecording], decoder: Decoder, seed: int, *, looser: bool) -> None:
        self._samples, self._decoder, self._looser = samples, decoder, looser
        order = list(range(len(samples)))
        random.Random(seed).shuffle(order)
        self._parts = [part for n in range(PARTS) if (part := order[n::PARTS])]

    def held_back(
        self, usual: Sequence[Hearings], teach: Callable[[Sequence[int]], Adaptation]
    ) -> list[Hearings]:
        """Return the hearings of each part with the adaptation learned from the other parts."""
        heard = list(usual)
        for part in self._parts:
            taught = teach(self._all_but(part))
            if not taught.changes_nothing:
                for index in part:
                    heard[index] = self._decoder.hear(self._samples[index], taught)
        return heard

    def gains(self, usual: Sequence[Hearings], trial: Sequence[Hearings]) -> list[tuple[int, Sequence[int]]]:
        """Return for each sample its lower cost in the trial, and the samples the trial learned from."""
        gains: list[tuple[int, Sequence[int]]] = [(0, ())] * len(usual)
        for part in self._parts:
            train = self._all_but(part)
            for index in part:
                gained = self._cost(index, usual[index]) - self._cost(index, trial[index])
                gains[index] = gained, train
        return gains

    def cost(self, heard: Sequence[Hearings]) -> int:
        """Return the cost: one for a question, a hundred for a wrong value."""
        return sum(self._cost(index, one) for index, one in enumerate(heard))

    def weighed(self, heard: Sequence[Hearings], of: Sequence[int]) -> list[Weighed]:
        """Return the confidence of samples that could be acted on, if the thresholds allowed it."""
        weighed = []
        for index in of:
            open_result, _ = self._decoder.result(self._samples[index], heard[index], _OPEN)
            if len(heard[index]) == 1 and open_result in (RIGHT, WRONG):
                one = heard[index][0]
                fit = one.fit if one.fit is not None else 0.0
                margin = one.margin if one.margin is not None else 0.0
                weighed.append(Weighed(fit, margin, open_result == RIGHT))
        return weighed

    def limits(self, heard: Sequence[Hearings], of: Sequence[int]) -> Thresholds:
        """Return the thresholds that are learned from these samples."""
        return limits_for(self.weighed(heard, of), looser=self._looser)

    def counts(self, heard: Sequence[Hearings]) -> dict[str, int]:
        """Return the counts of results under the usual thresholds."""
        return _counted(self._result(index, one, _USUAL) for index, one in enumerate(heard))

    def counts_held_back(self, heard: Sequence[Hearings]) -> dict[str, int]:
        """Return the counts of results, each part under the thresholds learned from the others."""
        results = []
        for part in self._parts:
            limits = self.limits(heard, self._all_but(part))
            results += [self._result(index, heard[index], limits) for index in part]
        return _counted(results)

    def _result(self, index: int, hearings: Hearings, limits: Thresholds) -> str:
        """Return a sample's result; ignored chatter counts as right."""
        result = self._decoder.result(self._samples[index], hearings, limits)[0]
        return RIGHT if result == IGNORED and not self._samples[index].said else result

    def _cost(self, index: int, hearings: Hearings) -> int:
        return {RIGHT: 0, WRONG: WRONG_COSTS}.get(self._result(index, hearings, _USUAL), 1)

    def _all_but(self, part: Sequence[int]) -> list[int]:
        out = set(part)
        return [index for index in range(len(self._samples)) if index not in out]


@dataclass(frozen=True)
class _SpellingsFound:
    """Written forms, each with the samples in which it was found."""

    where: Mapping[Spelling, tuple[int, ...]]
    kept: frozenset[Spelling]
    refused: Mapping[Spelling, str] = field(default_factory=dict)

    @classmethod
    def among(
        cls, samples: Sequence[OwnRecording], heard: Sequence[Hearings], spellings: Spellings
    ) -> _SpellingsFound:
        where: defaultdict[Spelling, list[int]] = defaultdict(list)
        for index, (sample, hearings) in enumerate(zip(samples, heard, strict=True)):
            if sample.said and len(hearings) == 1 and hearings[0].free:
                found = found_spelling(sample.said, hearings[0].free, spellings, sample.phrases)
                if found is not None:
                    where[found].append(index)
        known = {word for sample in samples for word in sample.words}
        heard_as: defaultdict[str, set[tuple[str, ...]]] = defaultdict(set)
        for words, form in where:
            heard_as[form].add(words)
        refused = {}
        for words, form in where:
            if collides(words, form, spellings, known):
                refused[words, form] = "it could be taken for something else"
            elif len(heard_as[form]) > 1:
                refused[words, form] = "several words are written so"
            elif len(where[words, form]) < 2:  # one sample can't be both held out and learned from
                refused[words, form] = "it came up only once"
        kept = frozenset(where) - frozenset(refused)
        return cls({found: tuple(at) for found, at in where.items()}, kept, refused)

    def of(self, train: Sequence[int]) -> dict[tuple[str, ...], tuple[str, ...]]:
        """Return the forms learned from these samples."""
        seen = set(train)
        forms: defaultdict[tuple[str, ...], tuple[str, ...]] = defaultdict(tuple)
        for words, form in sorted(self.kept):
            if seen & set(self.where[words, form]):
                forms[words] = (*forms[words], form)
        return dict(forms)

    def judged(self, gains: Sequence[tuple[int, Sequence[int]]]) -> _SpellingsFound:
        """Keep the forms that lowered their samples' cost; losses elsewhere count against all in use."""
        total: Counter[Spelling] = Counter()
        for index, (gained, train) in enumerate(gains):
            seen = set(train)
            taught = [found for found in self.kept if seen & set(self.where[found])]
            here = [found for found in taught if index in self.where[found]]
            for found in here or (taught if gained < 0 else ()):
                total[found] += gained
        kept = frozenset(found for found in self.kept if total[found] > 0)
        return _SpellingsFound(
            self.where, kept, {**self.refused, **dict.fromkeys(self.kept - kept, _NO_HELP)}
        )

    def dropped(self) -> _SpellingsFound:
        """Reject all forms."""
        return _SpellingsFound(
            self.where, frozenset(), {**self.refused, **dict.fromkeys(self.kept, _NO_HELP)}
        )


def _pace(samples: Sequence[OwnRecording], heard: Sequence[Hearings], train: Sequence[int]) -> float:
    """Return the median pace of correctly heard samples, shrunk towards zero when there are few."""
    paces = [
        heard[index][0].pace
        for index in train
        if samples[index].said and len(heard[index]) == 1 and heard[index][0].words == samples[index].said
    ]
    known = [pace for pace in paces if pace is not None]
    if not known:
        return 0.0
    believed = statistics.median(known) * len(known) / (len(known) + _PACE_TRUST)
    pace = round(max(-MOST_PACE, min(MOST_PACE, believed)), 3)
    return pace if abs(pace) >= _LEAST_PACE else 0.0


def known_phrase(one: Spoken, listening: Listening, check: Check) -> tuple[Words, Command] | None:
    """Return the words of an utterance at the bench and their command; None if they aren't known.

    They are those that the ears wrote down, if they mean the size that was let stand. Of an utterance that
    was asked about or corrected it may be their second guess; a third is not made.
    """
    heard, meant = one.event.draft.heard, one.meant
    if heard is None or meant is None or meant.check != one.check:
        return None
    guesses = {
        Became.STOOD: (heard.words,),
        Became.CORRECTED: (heard.runner_up,),
        Became.ANSWERED: (heard.words, heard.runner_up),
    }
    context = listening.at(one.position, check)
    for guess in guesses.get(one.became, ()):
        words = tuple((guess or "").split())
        found = meanings(words, listening.automaton, context) if words else ()
        for meaning in found:
            if len(meaning.commands) == 1 and _tells(meaning.commands[0], one.position, meant):
                return words, meaning.commands[0]
    return None


def _tells(command: Command, in_hand: Position, meant: Draft) -> bool:
    """Return whether a command, said with this position in hand, is the entry that was let stand."""
    match command:
        case Bracket(goes, stops, named):
            same = (goes, stops) == (meant.value, meant.other)
            return same and _place(named, in_hand) == meant.position
        case Reading(value, named, feel, corrects):
            if meant.value is None or meant.other is not None or value.mm != meant.value.mm:
                return False
            if (feel.value if feel else None) != meant.feel and not (corrects and feel is None):
                return False
            if corrects and meant.position is not None:  # its place is that of the corrected reading
                return named is None or _place(named, meant.position) == meant.position
            return _place(named, in_hand) == meant.position
        case _:
            return False


def _place(named: Position | None, in_hand: Position) -> Position:
    return in_hand if named is None else named.within(in_hand)


def _counted(results: Iterable[str]) -> dict[str, int]:
    counts = Counter(results)
    return {result: counts[result] for result in (RIGHT, WRONG, ASKED, IGNORED)}
