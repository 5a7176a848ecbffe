"""The sound of each spoken reading, kept beside the journal so that a doubtful entry can be replayed.

Sounds are FLAC files (lossless, a few kB each) in a folder named after the journal. A sound's name is the
SHA-256 of its file. The event that names it is chained by hash, so a swapped sound is detected. A voice is
personal data: keeping it can be switched off, and a sound may be deleted at any time without harm to the
journal.
"""

from __future__ import annotations

import hashlib
import io
import re
from contextlib import suppress
from pathlib import Path
from typing import TYPE_CHECKING

from handsfree.errors import JournalError
from handsfree.files import make_private_folder, write_whole
from handsfree.journal.store import SOUNDS
from handsfree.sound_format import SAMPLERATE_HZ as SAMPLERATE_HZ

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

_NAME = re.compile(r"[0-9a-f]{64}\.flac")


def sounds_folder(journal: Path) -> Path:
    """Return the folder of the sounds of the journal at this path."""
    return journal.with_name(journal.name + SOUNDS)


class Sounds:
    """The kept sounds of one journal."""

    def __init__(self, folder: Path, *, keep: bool = True) -> None:
        """Use this folder, created when first needed; with `keep` false nothing is saved."""
        self._folder = folder
        self._keep = keep
        self._trouble: str | None = None
        self._fresh: str | None = None

    @classmethod
    def beside(cls, journal: Path, *, keep: bool = True) -> Sounds:
        """Use the folder that belongs to the journal at this path."""
        return cls(sounds_folder(journal), keep=keep)

    @property
    def trouble(self) -> str | None:
        """Cause of the last failure to keep a sound, one sentence, or None."""
        return self._trouble

    def save(self, samples: NDArray[np.int16]) -> str | None:
        """Save a sound and return its name; it is on disk by then.

        A sound that can't be saved must not cost the reading: the result is then None, and `trouble` names
        the cause.

        Args:
            samples: (n,) int16, 16 kHz mono.

        Returns:
            The name for the event; None if sounds aren't kept, `samples` is empty, or saving failed.
        """
        self._trouble = self._fresh = None
        if not self._keep or len(samples) == 0:
            return None
        encoded = flac(samples)
        name = f"{hashlib.sha256(encoded).hexdigest()}.flac"
        place = self._folder / name
        if place.exists():
            return name  # the same recording was saved before
        try:
            make_private_folder(self._folder)
            write_whole(place, encoded, private=True)
        except OSError as fault:
            self._trouble = (
                f"The sound of this entry couldn't be kept in {self._folder} ({fault.strerror}); "
                "the entry itself isn't touched by that."
            )
            return None
        self._fresh = name
        return name

    def withdraw(self) -> None:
        """Remove the sound that was saved last, when no event names it.

        A sound that was there before that save stays.
        """
        if self._fresh is not None:
            with suppress(OSError):
                (self._folder / self._fresh).unlink()
        self._fresh = None

    def path(self, name: str) -> Path:
        """Return the path of a sound by the name that its event holds.

        Raises:
            JournalError: the name is not one of a sound, or the sound is missing.
        """
        if not _NAME.fullmatch(name):
            raise JournalError(f'"{name}" is not the name of a kept sound.')
        place = self._folder / name
        if not place.is_file():
            raise JournalError(f"The sound {name} is no longer in {self._folder}; it was deleted or moved.")
        return place

    def load(self, name: str) -> NDArray[np.int16]:
        """Return a sound's samples: (n,) int16, 16 kHz mono.

        Raises:
            JournalError: it is missing, or was altered.
        """
        place = self.path(name)
        try:
            encoded = place.read_bytes()
        except OSError as fault:
            raise JournalError(f"The sound {place} can't be read ({fault.strerror}).") from fault
        if hashlib.sha256(encoded).hexdigest() != name.removesuffix(".flac"):
            raise JournalError(f"The sound {place} was altered since it was logged.")
        import soundfile

        samples: NDArray[np.int16]
        samples, _ = soundfile.read(io.BytesIO(encoded), dtype="int16")
        return samples

    def trust(self, name: str) -> str | None:
        """Return one sentence about the fault of a kept sound, or None if it is as it was logged."""
        try:
            place = self.path(name)
            if hashlib.sha256(place.read_bytes()).hexdigest() != name.removesuffix(".flac"):
                return f"The sound {place} was altered since it was logged."
        except JournalError as fault:
            return str(fault)
        except OSError as fault:
            return f"The sound {name} can't be read ({fault.strerror})."
        return None


def flac(samples: NDArray[np.int16]) -> bytes:
    """Return (n,) int16 samples, 16 kHz mono, as FLAC: lossless, the same bytes for the same sound."""
    import numpy as np  # here, because a session by keypad doesn't need it
    import soundfile

    buffer = io.BytesIO()
    soundfile.write(
        buffer, np.ascontiguousarray(samples, dtype=np.int16), SAMPLERATE_HZ, "PCM_16", format="FLAC"
    )
    return buffer.getvalue()
