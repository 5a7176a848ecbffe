"""Who speaks: what the people of this bench sound like, learned from what they said here.

A voice is known from the phrases of a rehearsal, or from the first commands of a session that were taken
and not corrected; the newest of them are kept. An utterance that is clearly by none of the people at the
bench may not be acted on unasked. A short or noisy one tells too little, and changes nothing.

The vectors stay on this machine, in one private file of the user's data.
"""

from __future__ import annotations

import base64
import binascii
import json
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from enum import StrEnum
from pathlib import Path
from typing import Protocol

import numpy as np
from numpy.typing import NDArray

from handsfree.errors import AdaptationError
from handsfree.files import make_private_folder, write_whole
from handsfree.hear import SAMPLERATE_HZ, VOICE_SIZE, Samples, clearness_db, trimmed

Floats = NDArray[np.float32]

ME = "me"
"""Whose voice it is where nobody is named."""

ENOUGH = 6
"""Phrases from which a voice counts as known."""

KEPT = 30
"""Phrases kept of a voice, the newest."""

FORMAT = 1
_LEAST_S = 0.7  # of speech: a shorter sound tells too little
_LONG_S = 1.6  # what the network was taught with
_OWN = 0.80
_CLEAR_DB = 25.0
_OTHER_LONG, _OTHER_SHORT = 0.72, 0.65  # chosen by `tests/measure/voices.py` on speakers of choose
_NOISY_LONG, _NOISY_SHORT = 0.60, 0.56  # likewise, in pink noise at 10 dB


class Whose(StrEnum):
    """Whose voice an utterance has. The value stands in the journal."""

    OWN = "known"
    UNSURE = "unsure"
    OTHER = "other"


@dataclass(frozen=True, slots=True, eq=False)
class Spoke:
    """What an utterance tells about its speaker.

    voice: (256,). who: the person it is most like; None while nobody is known. alike: product with that
    person's mean, 1 for the same sound.
    """

    voice: Floats
    whose: Whose = Whose.UNSURE
    who: str | None = None
    alike: float | None = None

    @property
    def by_another(self) -> bool:
        """Whether it is clearly not the person known."""
        return self.whose is Whose.OTHER

    def facts(self) -> dict[str, object]:
        """Return what the journal keeps, JSON-ready; nothing while nobody is known."""
        if self.who is None or self.alike is None:
            return {}
        return {"voice": {"like": self.who, "alike": round(self.alike, 2), "whose": self.whose.value}}


class TellsVoices(Protocol):
    """A network that tells voices apart."""

    def voice(self, samples: Samples) -> Floats:
        """Return (256,) of length 1 for (n,) int16 at 16 kHz."""


@dataclass
class People:
    """The people of one session.

    Args:
        who: the person who measures.
        network: makes voices of sound.
        known: the voices of all people known here, by name, oldest first.
        path: where they are kept; None keeps none.
    """

    who: str
    network: TellsVoices
    known: dict[str, list[Floats]] = field(default_factory=dict)
    path: Path | None = None
    _admitted: list[Floats] = field(default_factory=list)  # of guests, by a question that was affirmed
    _waiting: Floats | None = None  # taken, and not yet left uncorrected

    def warm_up(self) -> None:
        """Load the network, so that no answer waits for it, and a fault is told before the work begins.

        Raises:
            ModelError: it can't be loaded.
        """
        self.network.voice(np.zeros(SAMPLERATE_HZ, np.int16))

    def spoke(self, samples: Samples) -> Spoke | None:
        """Return whose voice it is: (n,) int16 at 16 kHz; None when the sound is too short to tell."""
        speech = trimmed(samples)
        if len(speech) < _LEAST_S * SAMPLERATE_HZ:
            return None
        return self.judged(self.network.voice(speech), limit_of(speech))

    def judged(self, voice: Floats, limit: float) -> Spoke:
        """Return whose voice it is, by what is known now; clearly another's below the limit."""
        known = {name: alike(voice, voices) for name, voices in self.known.items() if len(voices) >= ENOUGH}
        if self.who not in known:
            return Spoke(voice)
        best = max(known, key=lambda name: known[name])
        here = max([known[self.who], *(float(voice @ guest) for guest in self._admitted)])
        if here < limit:
            return Spoke(voice, Whose.OTHER, best, known[best])
        if known[self.who] >= _OWN and best == self.who:
            return Spoke(voice, Whose.OWN, best, known[best])
        return Spoke(voice, Whose.UNSURE, best, known[best])

    def taken(self, spoke: Spoke | None) -> None:
        """Note that a command was taken: what was taken before it was not corrected, and is learned."""
        waiting, self._waiting = self._waiting, None
        if waiting is not None:
            self.learn([waiting])
        if spoke is not None and spoke.whose is not Whose.OTHER and not self._is_guest(spoke.voice):
            self._waiting = spoke.voice

    def corrected(self) -> None:
        """Note that the last command was corrected or withdrawn: nothing is learned of it."""
        self._waiting = None

    def admit(self, asked: Spoke, affirmed: Spoke | None) -> None:
        """Admit the speaker of a command that was asked about, if it was he who affirmed it."""
        if affirmed is not None and affirmed.whose is Whose.OWN:
            return
        self._admitted.append(asked.voice)

    def learn(self, voices: Iterable[Floats]) -> None:
        """Add phrases of the person who measures, and keep them; a full disk keeps them for this session."""
        self.known[self.who] = [*self.known.get(self.who, []), *voices][-KEPT:]
        if self.path is not None:
            try:
                save_voices({**load_voices(self.path), self.who: self.known[self.who]}, self.path)
            except AdaptationError:
                self.path = None

    def _is_guest(self, voice: Floats) -> bool:
        own = alike(voice, self.known.get(self.who, []))
        return any(float(voice @ guest) > own for guest in self._admitted)


def limit_of(speech: Samples) -> float:
    """Return the likeness below which speech is clearly by another voice: lower where less can be told."""
    long = len(speech) >= _LONG_S * SAMPLERATE_HZ
    if clearness_db(speech) < _CLEAR_DB:
        return _NOISY_LONG if long else _NOISY_SHORT
    return _OTHER_LONG if long else _OTHER_SHORT


def alike(voice: Floats, voices: list[Floats]) -> float:
    """Return the product of a voice with the mean of others, 1 for the same; -1 without any."""
    if not voices:
        return -1.0
    mean = np.mean(voices, axis=0)
    return float(voice @ mean / max(float(np.linalg.norm(mean)), 1e-9))


def voices_path() -> Path:
    """Return the path of the file, which may not exist."""
    import platformdirs

    return Path(platformdirs.user_data_path("handsfree", appauthor=False)) / "voices.json"


def load_voices(path: Path | None = None) -> dict[str, list[Floats]]:
    """Return the voices by name; an unreadable file counts as none, since they are learned anew."""
    try:
        form = json.loads((path or voices_path()).read_text(encoding="utf-8"))
    except (OSError, ValueError):
        return {}
    people = form.get("people") if isinstance(form, dict) and form.get("format") == FORMAT else None
    if not isinstance(people, dict):
        return {}
    found = {str(name): _voices(texts) for name, texts in people.items()}
    return {name: voices for name, voices in found.items() if voices}


def _voices(texts: object) -> list[Floats]:
    found = []
    for text in texts if isinstance(texts, list) else []:
        try:
            voice = np.frombuffer(base64.b64decode(text, validate=True), "<f2").astype(np.float32)
        except (TypeError, ValueError, binascii.Error):
            continue
        length = float(np.linalg.norm(voice))
        if voice.shape == (VOICE_SIZE,) and 0.5 < length < 2.0:  # NaN is refused, too
            found.append(voice / np.float32(length))
    return found[-KEPT:]


def save_voices(people: Mapping[str, list[Floats]], path: Path | None = None) -> Path:
    """Write the voices, readable by the user alone; return the path.

    Raises:
        AdaptationError: they can't be written.
    """
    path = path or voices_path()
    texts = {
        name: [base64.b64encode(voice.astype("<f2").tobytes()).decode() for voice in voices]
        for name, voices in people.items()
    }
    content = json.dumps({"format": FORMAT, "people": texts}, indent=1) + "\n"
    try:
        if not path.parent.is_dir():
            make_private_folder(path.parent)
        write_whole(path, content.encode(), private=True, forced=False)
    except OSError as error:
        raise AdaptationError(
            f"{path}: voices can't be written: {error.strerror or error}; free some space or mend the folder"
        ) from error
    return path


def forget_voices(names: Iterable[str], path: Path | None = None) -> None:
    """Remove what is kept of some people's voices; the file goes with the last.

    Raises:
        AdaptationError: it can't be written or removed.
    """
    path = path or voices_path()
    gone = set(names)
    left = {name: voices for name, voices in load_voices(path).items() if name not in gone}
    if left:
        save_voices(left, path)
        return
    try:
        path.unlink(missing_ok=True)
    except OSError as error:
        raise AdaptationError(
            f"{path} can't be removed: {error.strerror or error}; remove it by hand"
        ) from error
