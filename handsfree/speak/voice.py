"""The voice: from a reply's words to samples, by a speech engine that can be killed.

A whole answer as sound: its tone, a breath, its words.
"""

from __future__ import annotations

import re
import shutil
import sys
import tempfile
import threading
import time
import weakref
from collections.abc import Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import NamedTuple, Protocol, runtime_checkable

import numpy as np

from handsfree.child import Child, ChildLostError, script_command
from handsfree.errors import VoiceError
from handsfree.speak.reply import Reply, Tone
from handsfree.speak.sound import SAMPLERATE_HZ, Sound, levelled, silence, tone, trimmed

WORDS_PER_MINUTE = 180
"""Default rate of speech, in words a minute: slow enough for numbers in noise, fast enough to keep up."""

TERSE_WORDS_PER_MINUTE = 195
"""Default rate of terse answers: few words, for people who know what to expect."""
SLOWEST, FASTEST = 100, 300
"""Limits of "slower" and "faster", words a minute (common practice, no source)."""

ESPEAK = "espeak"
"""The default engine, on every system: the packaged espeak-ng."""

ESPEAK_VOICE = "en-us"
"""Default espeak voice: it is misheard less often than espeak's own default."""

SYSTEM_ENGINES = {"win32": "sapi5", "darwin": "nsss"}
"""The engine that a system brings, by `sys.platform`: Windows' SAPI 5, macOS's NSSpeechSynthesizer."""

_RECYCLE_AFTER = 2_000  # answers of one process: engines leak memory
_PATIENCE = 3  # failed starts in a row before it stops trying
_REST_S = 15.0

# Every engine reads "thou" as the pronoun; the shop says it as in "thousand".
# The engine espeak-ng takes phonemes in double brackets (its Kirshenbaum-like mnemonics); other
# engines get a respelling that English letter-to-sound rules read the same way.
_PHONEMES = {"thou": "[[T'aU]]"}
_RESPELLED = {"thou": "thow"}

# "Seventeen and a half" in one breath is heard as seventy and a half, "forty and" as fourteen, and
# "thirty-one" as thirteen, by the recogniser that judges the voice (`tests/outside/test_voice_heard.py`).
_TEN_AND = re.compile(r"(teen|ty)(?= and (?:a|three) (?:half|quarter))", re.IGNORECASE)
_TENS_HYPHEN = re.compile(r"(?<=ty)-(?=(?:one|two|three|four|five|six|seven|eight|nine)\b)", re.IGNORECASE)
# "Eight top" merges its two t, and the first word is missed: a pause between them, if the engine has
# a way to ask for one.
_EIGHT_TOP = re.compile(r"\b(eight) (?=top\b)", re.IGNORECASE)
_BREATH = "[[_:]]"
# "Eighteen half good" without a pause: the tone has given the verdict already. "File" keeps its pause:
# without it strangers take it for "five".
_GOOD = re.compile(r"(?<=\w)[,.] (?=good\b)", re.IGNORECASE)
_WORDS = re.compile(rf"\b({'|'.join(_PHONEMES)})\b", re.IGNORECASE)


class Voice(Protocol):
    """Turns the words of a reply into samples."""

    @property
    def signature(self) -> str:
        """Identify the sound apart from the words: engine, voice, rate."""

    def render(self, reply: Reply) -> Sound:
        """Return the spoken words, without their tone, as (n,) int16 samples and their rate in Hz.

        Raises:
            VoiceError: this answer can't be spoken; the next one may.
        """

    def close(self) -> None:
        """Release processes and files."""


@runtime_checkable
class HasPace(Protocol):
    """A voice whose rate can be changed at run time."""

    def pace(self, factor: float) -> None:
        """Multiply the rate from the next answer on, within the limits."""


@dataclass(frozen=True, slots=True)
class VoiceSettings:
    """Settings of the voice.

    engine: a driver of pyttsx3; None takes espeak, or the system's own if that doesn't start.
    voice: one of the engine's voices; None takes `ESPEAK_VOICE` with espeak, else the engine's default.
    words_per_minute: rate of speech.
    """

    engine: str | None = None
    voice: str | None = None
    words_per_minute: int = WORDS_PER_MINUTE


def named_voice(name: str | None, platform: str = sys.platform) -> VoiceSettings:
    """Return the settings for a voice as it is named on the command line.

    Args:
        name: a voice of espeak; the system's own engine, with or without one of its voices after a colon;
            None for the default.
        platform: `sys.platform`, or another for tests.

    Raises:
        VoiceError: the engine belongs to another system.

    >>> named_voice("en-gb")
    VoiceSettings(engine=None, voice='en-gb', words_per_minute=180)
    >>> named_voice("sapi5:Zira", "win32")
    VoiceSettings(engine='sapi5', voice='Zira', words_per_minute=180)
    """
    engine, _, voice = (name or "").partition(":")
    if engine == ESPEAK:
        return VoiceSettings(ESPEAK, voice or None)
    if engine not in SYSTEM_ENGINES.values():
        return VoiceSettings(voice=name)
    if SYSTEM_ENGINES.get(platform) != engine:
        own = SYSTEM_ENGINES.get(platform)
        here = f'here it is "{own}"' if own else "use one of espeak's, such as en-us"
        raise VoiceError(f'there is no voice "{engine}" on this system; {here}')
    return VoiceSettings(engine, voice or None)


class EngineVoice:
    """A speech engine in a child process.

    The process starts at the first answer, or earlier by `start`, and keeps running. If an answer
    takes too long, it is killed and another is started: a hang costs one answer.

    Args:
        settings: engine, voice and rate.
        timeout_s: time limit for rendering one answer.
        start_timeout_s: time limit for starting the engine.
        command: the child's command line, for tests; the folder for sound files is appended.
    """

    def __init__(
        self,
        settings: VoiceSettings | None = None,
        *,
        timeout_s: float = 2.0,
        start_timeout_s: float = 15.0,
        command: Sequence[str] | None = None,
    ) -> None:
        self.settings = settings or VoiceSettings()
        self._timeout_s = timeout_s
        self._start_timeout_s = start_timeout_s
        self._command = list(command or script_command(Path(__file__).with_name("voice_child.py")))
        self._lock = threading.Lock()
        self._worker: _Worker | None = None
        self._failures = 0
        self._rest_until = 0.0
        self._folder: Path | None = None

    @property
    def signature(self) -> str:
        """Identify the engine, voice and rate."""
        chosen = self.settings
        engine = chosen.engine or ESPEAK
        return f"{engine}/{_voice_of(engine, chosen) or 'default'}/{chosen.words_per_minute}"

    def pace(self, factor: float) -> None:
        """Multiply the rate from the next answer on, from SLOWEST to FASTEST."""
        wanted = round(self.settings.words_per_minute * factor)
        self.settings = replace(self.settings, words_per_minute=min(max(wanted, SLOWEST), FASTEST))

    def start(self) -> None:
        """Start the engine without waiting for it."""
        with self._lock:
            self._running()

    def render(self, reply: Reply) -> Sound:
        """Return the spoken words of `reply`: (n,) int16, at the engine's rate, silence trimmed.

        Raises:
            VoiceError: the engine failed, hung or doesn't start.
        """
        if not reply.aloud:
            return Sound(np.zeros(0, dtype=np.int16), 22_050)
        with self._lock:
            worker = self._running()
            try:
                worker.wait_ready(self._start_timeout_s)
                sound = worker.render(reply.aloud, self.settings, self._timeout_s)
            except ChildLostError as fault:
                self._drop()
                self._failures += 1
                if self._failures < _PATIENCE:
                    self._running()  # it starts in the background
                else:
                    self._rest_until = time.monotonic() + _REST_S
                raise VoiceError(f"the voice failed: {fault}; the answer is on the display") from fault
            except _RefusedError as fault:
                raise VoiceError(f"the voice refused: {fault}; the answer is on the display") from fault
            self._failures = 0
            if worker.answers >= _RECYCLE_AFTER:
                self._drop()
                self._running()
        trim = trimmed(sound)
        if not len(trim.samples):
            raise VoiceError("the voice gave only silence; the answer is on the display")
        return trim

    def close(self) -> None:
        """End the engine's process and remove its files."""
        with self._lock:
            self._drop()
            if self._folder is not None:
                shutil.rmtree(self._folder, ignore_errors=True)
                self._folder = None

    def __enter__(self) -> EngineVoice:
        return self

    def __exit__(self, *exc: object) -> None:
        self.close()

    @property
    def process_id(self) -> int | None:
        """The child's process id, or None while there is none."""
        return None if self._worker is None else self._worker.process.pid

    def _running(self) -> _Worker:
        if self._worker is None:
            if time.monotonic() < self._rest_until:
                raise VoiceError("the voice doesn't start; the answer is on the display")
            engine = [self.settings.engine] if self.settings.engine else []
            try:
                self._worker = _Worker([*self._command, self._way(), *engine])
            except OSError as fault:
                raise VoiceError(f"the voice can't be started: {fault}; check the installation") from fault
        return self._worker

    def _way(self) -> str:
        """Return the folder for temporary sound files; Linux needs none."""
        if sys.platform != "linux" and self._folder is None:
            self._folder = Path(tempfile.mkdtemp(prefix="handsfree-voice-"))
            weakref.finalize(self, shutil.rmtree, self._folder, ignore_errors=True)
        return str(self._folder or "")

    def _drop(self) -> None:
        if self._worker is not None:
            self._worker.kill()
            self._worker = None


def _voice_of(engine: str | None, settings: VoiceSettings) -> str | None:
    return settings.voice or (ESPEAK_VOICE if engine == ESPEAK else None)


def pronounceable(text: str, engine: str) -> str:
    """Spell a sentence for an engine.

    Args:
        text: the sentence in plain English.
        engine: the engine's name as pyttsx3 has it; "espeak" understands phonemes.

    >>> pronounceable("Eighteen thou.", "espeak")
    "Eighteen [[T'aU]]."
    >>> pronounceable("Eighteen thou, a thousand.", "sapi5")
    'Eighteen thow, a thousand.'
    >>> pronounceable("Seventeen and a half. Forty and a quarter.", "espeak")
    'Seventeen, and a half. Forty, and a quarter.'
    >>> pronounceable("Thirty-one.", "espeak")
    'Thirty one.'
    >>> pronounceable("Eight top, nine.", "espeak")
    'Eight [[_:]] top, nine.'
    >>> pronounceable("Eighteen half, good.", "espeak")
    'Eighteen half good.'
    >>> pronounceable("Three top, sixteen. Good. Sixteen, file two.", "espeak")
    'Three top, sixteen Good. Sixteen, file two.'
    """
    table = _PHONEMES if engine == ESPEAK else _RESPELLED
    # a label with brackets must not be taken for phonemes
    plain = text.replace("[[", "").replace("]]", "")
    apart = _TENS_HYPHEN.sub(" ", _TEN_AND.sub(r"\1,", _GOOD.sub(" ", plain)))
    if engine == ESPEAK:
        apart = _EIGHT_TOP.sub(rf"\1 {_BREATH} ", apart)
    return _WORDS.sub(lambda word: table[word[0].lower()], apart)


class _RefusedError(Exception):
    """The child is healthy and refused this request."""


class _Worker(Child):
    """One child process with a speech engine in it."""

    def __init__(self, command: Sequence[str]) -> None:
        super().__init__(command)
        self.answers = 0
        self._engine: str | None = None

    def wait_ready(self, timeout_s: float) -> None:
        """Wait until the engine has started.

        Raises:
            ChildLostError: it reported a fault, died, or took too long.
        """
        if self._engine is None:
            header, _ = self.receive(timeout_s)
            if "ready" not in header:
                raise ChildLostError(header.get("error", "no greeting"))
            self._engine = str(header["ready"])

    def render(self, text: str, settings: VoiceSettings, timeout_s: float) -> Sound:
        """Send a request and wait for its answer.

        Raises:
            ChildLostError: no answer in time, or an invalid one.
        """
        self.answers += 1
        request = {
            "id": self.answers,
            "text": pronounceable(text, self._engine or ""),
            "voice": _voice_of(self._engine, settings),
            "words_per_minute": settings.words_per_minute,
        }
        self.send(request)
        header, payload = self.receive(timeout_s)
        if header.get("id") != self.answers:
            raise ChildLostError("it answered another question")
        if "error" in header:
            raise _RefusedError(str(header["error"]))
        if len(payload) % 2:
            raise ChildLostError("it gave half a sample")
        return Sound(np.frombuffer(payload, dtype="<i2").astype(np.int16), int(header["samplerate_hz"]))


_BREATH_S = 0.04  # between tone and words: enough to separate them without a noticeable delay
_SPEECH_PEAK = 0.7  # of full scale


class Rendered(NamedTuple):
    """An answer's sound, and the fault in rendering its words, if any."""

    sound: Sound
    fault: str | None = None


def render_answer(reply: Reply, voice: Voice | None, *, tones: bool = True) -> Rendered:
    """Render a reply: (n,) int16 at the voice's rate.

    If the words can't be rendered, the tone still distinguishes short, good, over and "say again",
    and `fault` says why. A reply with neither text nor tone gives no samples.

    Args:
        reply: the answer.
        voice: renders the words; None for tones alone.
        tones: play the tone before the words.
    """
    words, fault = _words(reply, voice)
    rate = SAMPLERATE_HZ if words is None else words.samplerate_hz
    parts = []
    if tones and reply.tone is not Tone.NONE:
        parts.append(tone(reply.tone, rate).samples)
    if words is not None:
        if parts:
            parts.append(silence(_BREATH_S, rate))
        parts.append(words.samples)
    samples = np.concatenate(parts) if parts else silence(0, rate)
    return Rendered(Sound(samples, rate), fault)


def render_after_tone(reply: Reply, voice: Voice | None) -> Rendered:
    """Render the pause and the words without the tone: (n,) int16 at the voice's rate.

    For callers that play the tone at once and render the words meanwhile. No words, no samples.
    """
    words, fault = _words(reply, voice)
    if words is None:
        return Rendered(Sound(silence(0, SAMPLERATE_HZ), SAMPLERATE_HZ), fault)
    rate = words.samplerate_hz
    return Rendered(Sound(np.concatenate([silence(_BREATH_S, rate), words.samples]), rate))


def _words(reply: Reply, voice: Voice | None) -> tuple[Sound | None, str | None]:
    if voice is None or not reply.aloud:
        return None, None
    try:
        return levelled(voice.render(reply), _SPEECH_PEAK), None
    except VoiceError as error:
        return None, str(error)
