"""The choice of recogniser: the embedded one, or Vosk on request."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field
from enum import StrEnum
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np

from handsfree.hear import SAMPLERATE_HZ, Hearing, PhraseModel, PhraseRecogniser, Recogniser, Utterance
from handsfree.plan import Plan
from handsfree.understand import (
    Context,
    Decision,
    Evidence,
    Listening,
    Thresholds,
    listen_for,
    load_spellings,
    meanings,
    weighed,
)

if TYPE_CHECKING:
    from handsfree.adapt import Adaptation

_HISS, _HISS_S = 300, 8.0  # its level, of 32767, and its duration: that of the longest phrases
OWN = "+own"
"""Name suffix of a recogniser adapted to its user."""


class Choice(StrEnum):
    """Selectable recognisers. AUTO is the embedded one, whatever else is installed."""

    AUTO = "auto"
    PHRASE = "phrase"
    VOSK = "vosk"


@dataclass(frozen=True)
class Ear:
    """One check's recogniser, with its grammar."""

    listening: Listening
    recogniser: Recogniser
    thresholds: Thresholds | None = None

    def hear(self, utterance: Utterance, context: Context | None = None) -> tuple[Hearing, Decision]:
        """Recognise one utterance and decide what may be done with it.

        context: what is possible at this moment of a session; all that the check holds when not given.
        """
        hearing = self.recogniser.hear(utterance)
        here = context or self.listening.context
        known = evidence(hearing)
        return hearing, weighed(known, hearing.free, self.listening.automaton, here, self.thresholds)


@dataclass
class Recognisers:
    """The ears of a plan's checks, each made once; they share one neural model.

    adaptation: the adaptation to the user's voice, or None.
    """

    plan: Plan
    choice: Choice = Choice.AUTO
    vosk_model: Path | None = None
    encoder: Path | None = None
    adaptation: Adaptation | None = None
    _ears: dict[str, Ear] = field(default_factory=dict)
    _model: PhraseModel | None = None
    _vosk: Callable[[Listening], Recogniser] | None = None

    def ear(self, check: str) -> Ear:
        """Return the ear for a check.

        Raises:
            ModelError: the selected recogniser has no model.
        """
        if check not in self._ears:
            listening = listen_for(self.plan, self.plan.check(check))
            limits = self.adaptation.thresholds if self.adaptation else None
            self._ears[check] = Ear(listening, self._recogniser(listening), limits)
        return self._ears[check]

    def _recogniser(self, listening: Listening) -> Recogniser:
        if self.choice is Choice.VOSK:
            return self._vosk_recogniser(listening)
        if self._model is None:
            self._model = PhraseModel(encoder=self.encoder)
        return phrase_recogniser(listening, self._model, self.adaptation)

    def _vosk_recogniser(self, listening: Listening) -> Recogniser:
        from handsfree.hear.models import find_vosk_model, wanted_vosk_model

        folder = find_vosk_model(self.vosk_model)
        if folder is None:
            raise wanted_vosk_model()
        from handsfree.hear.vosk_recogniser import VoskModel, VoskRecogniser

        if self._vosk is None:
            model = VoskModel(folder)
            self._vosk = lambda heard: VoskRecogniser(model, heard.automaton.words, heard.automaton.accepts)
        return self._vosk(listening)


def phrase_recogniser(
    listening: Listening, model: PhraseModel | None = None, adaptation: Adaptation | None = None
) -> PhraseRecogniser:
    """Return the embedded recogniser for a grammar, with the adaptation to one person if given."""
    automaton, context = listening.automaton, listening.context
    places = [next(iter(context.axes)).split()[0]] if context.axes else []
    recogniser = PhraseRecogniser(
        automaton,
        lambda words: meanings(words, automaton, context),
        model,
        places,
        adaptation.spellings(load_spellings(), automaton.words) if adaptation else None,
        adaptation.pace if adaptation else 0.0,
    )
    if adaptation:
        recogniser.name += OWN
    return recogniser


def warm_up(recogniser: Recogniser) -> None:
    """Decode a long hiss, so that the first phrase is as fast as the others.

    This also allocates the memory for long phrases at once: otherwise a session seems to leak.
    """
    hiss = np.random.default_rng(0).normal(0, _HISS, round(_HISS_S * SAMPLERATE_HZ)).astype(np.int16)
    recogniser.hear(Utterance(hiss, 0.0, _HISS_S))


def evidence(hearing: Hearing) -> Evidence:
    """Return the evidence in a hearing for the decision."""
    first = hearing.alternatives[0].logp if hearing.alternatives else 0.0
    others = tuple((other.words, first - other.logp) for other in hearing.alternatives[1:])
    lowest = min(hearing.confidences) if hearing.confidences else None
    return Evidence(hearing.words, hearing.fit, hearing.margin, others, lowest, hearing.pace)
