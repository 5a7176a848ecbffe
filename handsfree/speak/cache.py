"""A cache of rendered phrases, in memory and optionally in a folder, so that answers start at once."""

from __future__ import annotations

import contextlib
import hashlib
import threading
import wave
from collections import OrderedDict
from collections.abc import Iterable
from pathlib import Path

import numpy as np

from handsfree import __version__
from handsfree.errors import SoundError, VoiceError
from handsfree.files import make_private_folder
from handsfree.speak.reply import Reply
from handsfree.speak.sound import Sound, save_wav
from handsfree.speak.voice import HasPace, Voice

_MOST_BYTES = 4 * 1024 * 1024  # about 35 answers; the folder has the rest, a millisecond away
_MOST_FILES = 4_000


class CachedVoice:
    """A voice with a cache.

    Cached phrases are spoken even while the engine is broken.

    Args:
        voice: the voice that renders phrases missing from the cache.
        folder: the cache on disk; None caches in memory only.
        most_bytes: limit of the cache in memory; the least recently used phrases go first.
    """

    def __init__(self, voice: Voice, folder: Path | None = None, most_bytes: int = _MOST_BYTES) -> None:
        self._voice = voice
        self._folder = folder
        self._most_bytes = most_bytes
        self._bytes = 0
        self._memory: OrderedDict[str, Sound] = OrderedDict()
        self._lock = threading.Lock()
        self.hits = 0
        self.misses = 0
        if folder is not None:
            try:
                make_private_folder(folder)  # the phrases contain measured values
                _prune(folder)
            except OSError:  # without a cache it still speaks
                self._folder = None

    @property
    def signature(self) -> str:
        """Name the voice beneath."""
        return self._voice.signature

    def render(self, reply: Reply) -> Sound:
        """Return the words of `reply` from memory, from the folder, or from the engine.

        Raises:
            VoiceError: not in the cache, and the engine failed.
        """
        key = self._key(reply.aloud)
        sound = self._remembered(key)
        if sound is None:
            sound = self._voice.render(reply)
            self.misses += 1
            self._remember(key, sound)
            self._store(key, sound)
        else:
            self.hits += 1
        return sound

    def warm(self, replies: Iterable[Reply]) -> int:
        """Render phrases in advance; return how many are ready. Faults are ignored here."""
        ready = 0
        for reply in replies:
            with contextlib.suppress(VoiceError):
                self.render(reply)
                ready += 1
        return ready

    def pace(self, factor: float) -> None:
        """Change the rate of the voice beneath, where it has one."""
        if isinstance(self._voice, HasPace):
            self._voice.pace(factor)

    def close(self) -> None:
        """Close the voice beneath."""
        self._voice.close()

    def _key(self, text: str) -> str:
        whole = f"{__version__}\n{self._voice.signature}\n{text}"
        return hashlib.sha256(whole.encode()).hexdigest()[:32]

    def _remembered(self, key: str) -> Sound | None:
        with self._lock:
            if key in self._memory:
                self._memory.move_to_end(key)
                return self._memory[key]
        if self._folder is None:
            return None
        sound = _read(self._folder / f"{key}.wav")
        if sound is not None:
            self._remember(key, sound)
        return sound

    def _remember(self, key: str, sound: Sound) -> None:
        with self._lock:
            if key not in self._memory:
                self._bytes += sound.samples.nbytes
            self._memory[key] = sound
            while self._bytes > self._most_bytes and len(self._memory) > 1:
                _, oldest = self._memory.popitem(last=False)
                self._bytes -= oldest.samples.nbytes

    def _store(self, key: str, sound: Sound) -> None:
        if self._folder is not None and len(sound.samples):
            with contextlib.suppress(SoundError):
                save_wav(self._folder / f"{key}.wav", sound, private=True, forced=False)


def _read(path: Path) -> Sound | None:
    """Read a stored phrase; a damaged one counts as not stored."""
    try:
        with wave.open(str(path), "rb") as file:
            if (file.getsampwidth(), file.getnchannels()) != (2, 1):
                return None
            frames = file.readframes(file.getnframes())
            rate = file.getframerate()
            whole = len(frames) == 2 * file.getnframes() > 0
    except (OSError, EOFError, wave.Error):
        return None
    return Sound(np.frombuffer(frames, dtype="<i2").astype(np.int16), rate) if whole else None


def _prune(folder: Path) -> None:
    """Drop the oldest files beyond the limit."""
    files = sorted(folder.glob("*.wav"), key=lambda path: path.stat().st_mtime)
    for path in files[: max(0, len(files) - _MOST_FILES)]:
        path.unlink(missing_ok=True)


def journal_beside(plan: Path) -> Path:
    """Return the default journal of a plan: beside it, with the same name.

    >>> str(journal_beside(Path("engines/heron.toml")))
    'engines/heron.journal'
    """
    return plan.with_suffix(".journal")


def phrases_folder() -> Path:
    """Return the folder of the phrase cache, in the user's cache folder."""
    import platformdirs

    return Path(platformdirs.user_cache_dir("handsfree")) / "voice"
