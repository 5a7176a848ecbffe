"""What can be learned of one person's voice from recordings of known phrases, and whether it helps.

Whatever is learned is judged on recordings that were held back while it was learned: the recordings
are dealt into parts, and each part is heard with what the others taught. Forms and pace are kept only
if that is better than hearing everybody alike; a question counts as one, a wrong value as a hundred.
"""

from __future__ import annotations

import random
import statistics
from collections import Counter, defaultdict
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from typing import Protocol

from handsfree.adapt.adaptation import MOST_PACE, Adaptation
from handsfree.adapt.forms import Found, collides, found_form
from handsfree.adapt.limits import WRONG_COSTS, Weighed, limits_for
from handsfree.hear import Hearing
from handsfree.recordings import ASKED, IGNORED, RIGHT, WRONG
from handsfree.understand import Spellings, Thresholds

PARTS = 5
"""Into which the recordings are dealt."""
FEWEST = 8
"""Recordings; nothing is learned from fewer."""

_PACE_TRUST = 5  # recordings at which half of the pace that was measured is believed
_LEAST_PACE = 0.05
_USUAL = Thresholds()
_OPEN = Thresholds(sure_fit=_USUAL.chatter_fit, sure_margin=0.0)  # whatever could ever be acted on
_NO_HELP = "it didn't help on recordings held back"

Hearings = tuple[Hearing, ...]


@dataclass(frozen=True)
class Sample:
    """A recording of a known phrase.

    key: names it to the decoder. said: the grammar's words; empty for talk that isn't for the bench.
    words: all words of the grammar in use. phrases: those of it that stand together.
    """

    key: str
    said: tuple[str, ...]
    words: tuple[str, ...] = field(repr=False)
    phrases: frozenset[tuple[str, ...]] = field(default=frozenset(), repr=False)


class Decoder(Protocol):
    """Hears samples, as everybody's or as one person's."""

    def hear(self, sample: Sample, adaptation: Adaptation) -> Hearings:
        """Give the hearing of each of a sample's utterances."""

    def result(self, sample: Sample, hearings: Hearings, thresholds: Thresholds) -> tuple[str, bool]:
        """Judge them: right, wrong, asked or ignored, and whether the likeliest command was right."""


@dataclass(frozen=True)
class Learned:
    """What was learned, and the counts of results on held-back recordings without it and with it.

    refused: forms that were found and not kept, with the reason. unlike: samples that were heard as
    something quite different from what they are said to be.
    """

    adaptation: Adaptation
    before: Mapping[str, int]
    after: Mapping[str, int]
    refused: Mapping[Found, str] = field(default_factory=dict)
    unlike: tuple[str, ...] = ()


def learn(
    samples: Sequence[Sample],
    decoder: Decoder,
    spellings: Spellings,
    seed: int = 1,
    told: Callable[[str], object] = lambda _: None,
) -> Learned:
    """Learn forms, pace and thresholds from recordings; `told` is told what is being done."""
    work = _Work(samples, decoder, seed)
    told("Hearing them as everybody's are heard")
    usual = [decoder.hear(sample, Adaptation()) for sample in samples]
    told("Learning how words are written down")
    forms = _FormsFound.among(samples, usual, spellings)
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
    limits = limits_for(work.weighed(best, range(len(samples))))
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
    """The samples, dealt into parts that are held back in turn."""

    def __init__(self, samples: Sequence[Sample], decoder: Decoder, seed: int) -> None:
        self._samples, self._decoder = samples, decoder
        order = list(range(len(samples)))
        random.Random(seed).shuffle(order)
        self._parts = [part for n in range(PARTS) if (part := order[n::PARTS])]

    def held_back(
        self, usual: Sequence[Hearings], teach: Callable[[Sequence[int]], Adaptation]
    ) -> list[Hearings]:
        """Hear each part with what the other parts teach."""
        heard = list(usual)
        for part in self._parts:
            taught = teach(self._all_but(part))
            if not taught.changes_nothing:
                for index in part:
                    heard[index] = self._decoder.hear(self._samples[index], taught)
        return heard

    def gains(self, usual: Sequence[Hearings], trial: Sequence[Hearings]) -> list[tuple[int, Sequence[int]]]:
        """Give for each sample how much less it costs in the trial, and what had taught the trial."""
        gains: list[tuple[int, Sequence[int]]] = [(0, ())] * len(usual)
        for part in self._parts:
            train = self._all_but(part)
            for index in part:
                gained = self._cost(index, usual[index]) - self._cost(index, trial[index])
                gains[index] = gained, train
        return gains

    def cost(self, heard: Sequence[Hearings]) -> int:
        """Count questions, and a wrong value as a hundred of them."""
        return sum(self._cost(index, one) for index, one in enumerate(heard))

    def weighed(self, heard: Sequence[Hearings], of: Sequence[int]) -> list[Weighed]:
        """Give how surely samples were heard: those that might be acted on, if the thresholds allowed."""
        weighed = []
        for index in of:
            open_result, _ = self._decoder.result(self._samples[index], heard[index], _OPEN)
            if len(heard[index]) == 1 and open_result in (RIGHT, WRONG):
                one = heard[index][0]
                fit = one.fit if one.fit is not None else 0.0
                margin = one.margin if one.margin is not None else 0.0
                weighed.append(Weighed(fit, margin, open_result == RIGHT))
        return weighed

    def counts(self, heard: Sequence[Hearings]) -> dict[str, int]:
        """Count the results under the usual thresholds."""
        return _counted(self._result(index, one, _USUAL) for index, one in enumerate(heard))

    def counts_held_back(self, heard: Sequence[Hearings]) -> dict[str, int]:
        """Count the results, each part under the thresholds that the others teach."""
        results = []
        for part in self._parts:
            limits = limits_for(self.weighed(heard, self._all_but(part)))
            results += [self._result(index, heard[index], limits) for index in part]
        return _counted(results)

    def _result(self, index: int, hearings: Hearings, limits: Thresholds) -> str:
        """Talk that was left alone counts as right."""
        result = self._decoder.result(self._samples[index], hearings, limits)[0]
        return RIGHT if result == IGNORED and not self._samples[index].said else result

    def _cost(self, index: int, hearings: Hearings) -> int:
        return {RIGHT: 0, WRONG: WRONG_COSTS}.get(self._result(index, hearings, _USUAL), 1)

    def _all_but(self, part: Sequence[int]) -> list[int]:
        out = set(part)
        return [index for index in range(len(self._samples)) if index not in out]


@dataclass(frozen=True)
class _FormsFound:
    """Written forms, each with the samples that it was found in."""

    where: Mapping[Found, tuple[int, ...]]
    kept: frozenset[Found]
    refused: Mapping[Found, str] = field(default_factory=dict)

    @classmethod
    def among(cls, samples: Sequence[Sample], heard: Sequence[Hearings], spellings: Spellings) -> _FormsFound:
        where: defaultdict[Found, list[int]] = defaultdict(list)
        for index, (sample, hearings) in enumerate(zip(samples, heard, strict=True)):
            if sample.said and len(hearings) == 1 and hearings[0].free:
                found = found_form(sample.said, hearings[0].free, spellings, sample.phrases)
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
            elif len(where[words, form]) < 2:  # one can't be held back and learned from at once
                refused[words, form] = "it came up only once"
        kept = frozenset(where) - frozenset(refused)
        return cls({found: tuple(at) for found, at in where.items()}, kept, refused)

    def of(self, train: Sequence[int]) -> dict[tuple[str, ...], tuple[str, ...]]:
        """The forms that these samples teach."""
        seen = set(train)
        forms: defaultdict[tuple[str, ...], tuple[str, ...]] = defaultdict(tuple)
        for words, form in sorted(self.kept):
            if seen & set(self.where[words, form]):
                forms[words] = (*forms[words], form)
        return dict(forms)

    def judged(self, gains: Sequence[tuple[int, Sequence[int]]]) -> _FormsFound:
        """Keep those that helped where they turned up; a loss elsewhere counts against all taught there."""
        total: Counter[Found] = Counter()
        for index, (gained, train) in enumerate(gains):
            seen = set(train)
            taught = [found for found in self.kept if seen & set(self.where[found])]
            here = [found for found in taught if index in self.where[found]]
            for found in here or (taught if gained < 0 else ()):
                total[found] += gained
        kept = frozenset(found for found in self.kept if total[found] > 0)
        return _FormsFound(self.where, kept, {**self.refused, **dict.fromkeys(self.kept - kept, _NO_HELP)})

    def dropped(self) -> _FormsFound:
        """Keep none."""
        return _FormsFound(self.where, frozenset(), {**self.refused, **dict.fromkeys(self.kept, _NO_HELP)})


def _pace(samples: Sequence[Sample], heard: Sequence[Hearings], train: Sequence[int]) -> float:
    """The middle pace of what was heard as it was said; the fewer there are the less of it is believed."""
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


def _counted(results: Iterable[str]) -> dict[str, int]:
    counts = Counter(results)
    return {result: counts[result] for result in (RIGHT, WRONG, ASKED, IGNORED)}
