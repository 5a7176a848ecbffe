"""The Vosk recogniser: words of the grammar, an unknown word, and a confidence for each word.

Vosk's grammar is a list of words without order, so it maps any talk onto them, often with full confidence.
Therefore a result counts only if the grammar's own automaton accepts it as a phrase; a result with the
unknown word never counts.
"""

from __future__ import annotations

import json
import os
import sys
import tempfile
import time
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from pathlib import Path
from typing import Any

import numpy as np

from handsfree.errors import ModelError
from handsfree.hear.heard import (
    SAMPLERATE_HZ,
    Alternative,
    DecodingCancelledError,
    Hearing,
    Samples,
    Utterance,
    never,
)

Words = tuple[str, ...]

_UNKNOWN_NAMES = ("[unk]", "<UNK>", "<unk>")  # English models, the Korean one, others
_PIECE = SAMPLERATE_HZ // 10
_TAIL = np.zeros(SAMPLERATE_HZ // 2, np.int16)
"""Half a second of silence at the end of an utterance: without it the last word may be missing."""
_ALTERNATIVES = 8


class VoskModel:
    """A model in memory; several recognisers may share it."""

    def __init__(self, folder: Path) -> None:
        """Load the model in a folder, in about a second and 150 to 500 MB.

        Raises:
            ModelError: Vosk can't load a model from the folder.
        """
        if not folder.is_dir():
            found = "a file" if folder.exists() else "nothing"
            raise ModelError(f'Wanted a folder with a Vosk model at "{folder}", found {found}.')
        self.name = folder.resolve().name
        with _stderr_kept() as complaints:
            try:
                import vosk
            except (ImportError, OSError) as why:
                raise ModelError(f'Vosk can\'t be used here ({why}); "pip install vosk" mends that.') from why
            vosk.SetLogLevel(-1)
            try:
                self.loaded = vosk.Model(str(folder))
            except Exception as why:
                raise ModelError(_no_model(folder, complaints())) from why
        self.unknown = next((name for name in _UNKNOWN_NAMES if self.knows(name)), None)
        """The model's own unknown word, if it has one."""

    def knows(self, word: str) -> bool:
        """Return whether the model's dictionary has a word."""
        return int(self.loaded.vosk_model_find_word(word)) >= 0


class VoskRecogniser:
    """Hears the words of a grammar with a Vosk model."""

    def __init__(
        self, model: VoskModel, words: Sequence[str], accepts: Callable[[Words], bool] | None = None
    ) -> None:
        """Start a recogniser for a grammar.

        words: the grammar's words, or phrases of several. accepts: whether words make a whole phrase.

        Raises:
            ModelError: the model knows none of the words, as with a model of another language.
        """
        self._model = model
        self._accepts = accepts or (lambda _: True)
        every = dict.fromkeys(word for phrase in words for word in phrase.split())
        lost = {word for word in every if not model.knows(word)}
        usable = [phrase for phrase in dict.fromkeys(words) if phrase and not lost & set(phrase.split())]
        if not usable:
            raise ModelError(
                f'The Vosk model "{model.name}" knows none of the {len(every)} words that may be said; '
                "choose an English one."
            )
        unknown = [model.unknown] if model.unknown else []
        self._grammar = json.dumps([*usable, *unknown], ensure_ascii=False)

    @property
    def name(self) -> str:
        """Name of recogniser and model."""
        return f"vosk {self._model.name}"

    def stream(self) -> VoskStream:
        """Return a stream for an utterance in progress."""
        return VoskStream(self._kaldi())

    def hear(self, utterance: Utterance, cancelled: Callable[[], bool] = never) -> Hearing:
        """Recognise one utterance. The result has no words if the grammar doesn't accept them.

        Raises:
            DecodingCancelledError: soon after `wanted` returned False.
        """
        began = time.perf_counter()
        stream = self.stream()
        for start in range(0, len(utterance.samples), _PIECE):
            if cancelled():
                raise DecodingCancelledError
            stream.feed(utterance.samples[start : start + _PIECE])
        return self.finish(stream, utterance, began)

    def finish(self, stream: VoskStream, utterance: Utterance, began: float | None = None) -> Hearing:
        """Return the hearing of a stream after the whole utterance has been fed to it."""
        began = time.perf_counter() if began is None else began
        heard, confidences = stream.finish()
        phrases = [other for other in self._alternatives(utterance.samples) if self._fits(other.words)]
        words, chosen = heard, "best"
        if not self._fits(heard):
            # A phrase among the next best may be asked about: without confidence it isn't logged. With the
            # unknown word in the best it isn't, or the program would ask about all talk in the room.
            stranger = self._model.unknown in heard
            words = phrases[0].words if phrases and not stranger else ()
            confidences, chosen = (0.0,) * len(words), "alternative" if words else "none"
        return Hearing(
            words=words,
            start_s=utterance.start_s,
            end_s=utterance.end_s,
            recogniser=self.name,
            confidences=confidences if words else None,
            alternatives=_first(words, phrases),
            free=" ".join(heard),
            decode_ms=1000 * (time.perf_counter() - began),
            extra={"chosen": chosen, "from_partial": stream.from_partial},
        )

    def _fits(self, words: Words) -> bool:
        return bool(words) and self._model.unknown not in words and self._accepts(words)

    def _alternatives(self, samples: Samples) -> list[Alternative]:
        """Return the best word sequences with log-likelihoods, best first; a second pass of some 15 ms/s."""
        kaldi = self._kaldi()
        kaldi.SetMaxAlternatives(_ALTERNATIVES)
        results = [kaldi.Result() for piece in (samples, _TAIL) if kaldi.AcceptWaveform(piece.tobytes())]
        parts = [json.loads(result) for result in (*results, kaldi.FinalResult())]
        spoken = [part["alternatives"] for part in parts if any(a["text"] for a in part["alternatives"])]
        if len(spoken) != 1:  # nothing, or cut in two: then the scores of the parts don't belong together
            return []
        scores: dict[Words, float] = {}
        for found in spoken[0]:
            scores.setdefault(tuple(found["text"].split()), float(found["confidence"]))
        ranked = sorted(scores.items(), key=lambda item: -item[1])
        return [Alternative(words, logp) for words, logp in ranked]

    def _kaldi(self) -> Any:
        """Return a fresh Kaldi recogniser (0.4 ms): a reset one keeps the speaker, which changes results."""
        import vosk

        kaldi = vosk.KaldiRecognizer(self._model.loaded, SAMPLERATE_HZ, self._grammar)
        kaldi.SetWords(True)
        return kaldi


class VoskStream:
    """Recognises an utterance while it is being spoken."""

    def __init__(self, kaldi: Any) -> None:
        self._kaldi = kaldi
        self._done: list[dict[str, Any]] = []
        self._partial: Words = ()
        self._best_partial: Words = ()
        self.from_partial = False
        """Whether `finish` had to fall back on partial words."""

    def feed(self, samples: Samples) -> Words:
        """Process the next piece, (n,) int16, and return the words so far."""
        if self._kaldi.AcceptWaveform(samples.astype("<i2").tobytes()):
            # Vosk ends utterances by its own rules; words up to that point are missing from its final result.
            self._done += json.loads(self._kaldi.Result()).get("result", [])
            self._partial = ()
        else:
            self._partial = tuple(json.loads(self._kaldi.PartialResult())["partial"].split())
        words = self.partial()
        if words:
            self._best_partial = words
        return words

    def partial(self) -> Words:
        """The words so far."""
        return (*(word["word"] for word in self._done), *self._partial)

    def finish(self) -> tuple[Words, tuple[float, ...]]:
        """Return the words, including unknown ones, and the confidence of each in 0..1.

        If the final result is empty although there were partial words, those are returned, without
        confidences.
        """
        self.feed(_TAIL)
        self._done += json.loads(self._kaldi.FinalResult()).get("result", [])
        self._partial = ()
        words = self.partial()
        confidences = tuple(float(word["conf"]) for word in self._done)
        if not words and self._best_partial:
            self.from_partial = True
            words, confidences = self._best_partial, (0.0,) * len(self._best_partial)
        return words, confidences


def _first(words: Words, ranked: list[Alternative]) -> tuple[Alternative, ...]:
    """Return the alternatives with the chosen words first; none if those have no score."""
    mine = [other for other in ranked if other.words == words]
    return (*mine, *(other for other in ranked if other.words != words)) if mine else ()


def _no_model(folder: Path, complaint: str) -> str:
    wanted = ("am/final.mdl", "final.mdl")
    if not any((folder / name).is_file() for name in wanted):
        return f'The folder "{folder}" is not a Vosk model: it has no {wanted[0]}; name the unpacked folder.'
    why = f" ({complaint})" if complaint else ""
    return f'The Vosk model in "{folder}" can\'t be loaded{why}; unpack it again.'


@contextmanager
def _stderr_kept() -> Iterator[Callable[[], str]]:
    """Keep C code's standard error off the screen; yield a function that returns its last message."""
    sys.stderr.flush()
    saved = os.dup(2)
    with tempfile.TemporaryFile() as kept:
        os.dup2(kept.fileno(), 2)

        def last() -> str:
            kept.seek(0)
            lines = kept.read().decode("utf-8", "replace").splitlines()
            found = [line for line in lines if line.startswith("ERROR")]
            return found[-1].partition(") ")[2] or found[-1] if found else ""

        try:
            yield last
        finally:
            os.dup2(saved, 2)
            os.close(saved)
