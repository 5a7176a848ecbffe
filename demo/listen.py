"""The demo's session as one sound: each recording, then the answer to it."""

from __future__ import annotations

import sys
from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import Any

import numpy as np
import soundfile

from handsfree.hear import SAMPLERATE_HZ, read_sound
from handsfree.hear.sound import write_wav

PAUSE = np.zeros(SAMPLERATE_HZ // 4, np.int16)


def write_conversation(forms: Sequence[Mapping[str, Any]], recordings: Path, path: Path) -> Path:
    """Join what was said and what was answered, in order, into one WAV of 16 kHz mono."""
    pieces = []
    before = None
    for form in forms:
        sound = recordings / form["file"]
        if form["file"] != before and sound.suffix == ".ogg":
            pieces += [read_sound(sound), PAUSE]
        before = form["file"]
        if form.get("said"):
            pieces += [read_sound(form["said"]), PAUSE]
    write_wav(path, np.concatenate([PAUSE, *pieces]))
    return path


def play(path: Path) -> None:
    """Play a sound through the loudspeaker, or say why that can't be done."""
    try:
        import sounddevice  # here, because it fails where PortAudio is missing
    except OSError as why:
        print(f"nothing can be played ({why}); handsfree check says what is missing", file=sys.stderr)
        return
    samples, samplerate_hz = soundfile.read(path, dtype="int16")
    try:
        sounddevice.play(samples, samplerate_hz, blocking=True)
    except sounddevice.PortAudioError as why:
        print(f"nothing could be played ({why}); handsfree check says what is missing", file=sys.stderr)
