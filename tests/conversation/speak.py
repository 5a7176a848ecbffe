"""Speak the utterances of this folder in synthetic voices, one FLAC each, for `tests.measure.conversation`.

    python tests/conversation/speak.py DIR piper-joe kokoro-af_bella:6:0 kokoro-am_puck:6:1 ...

A voice with two numbers speaks one text in so many, beginning with that one: slow voices share the
work. With `--list TEXT` before the voices, only the lists whose file name holds TEXT are spoken. Needs the
packages that `audio_fixtures/README.md` names. What is there already is kept; the sound is never committed.
"""

from __future__ import annotations

import sys
import tomllib
import zlib
from pathlib import Path

import numpy as np
import soundfile

HERE = Path(__file__).parent
_RMS = 10 ** (-24 / 20)
_EDGE_S = 0.25


def texts(only: str) -> list[str]:
    """Return every text of the lists whose name holds `only`, once."""
    found = {
        text: None
        for path in sorted(HERE.glob(f"*{only}*.toml"))
        for scene in tomllib.loads(path.read_text("utf-8"))["scene"]
        for text, _ in scene["says"]
    }
    return list(found)


def file_name(text: str) -> str:
    """Return the name of the file that holds a text."""
    return f"{zlib.crc32(text.encode()):08x}.flac"


def main(folder: Path, wanted: list[str], only: str = "") -> None:
    """Speak the texts in the voices named."""
    sys.path.insert(0, str(HERE.parents[1] / "audio_fixtures"))
    from speakers import VOICES
    from voices import RATE_HZ, Line

    voices = {voice.name: voice for voice in VOICES}
    for name, every, first in (((*each.split(":"), "1", "0")[:3]) for each in wanted):
        voice = voices[name]
        target = folder / voice.name
        target.mkdir(parents=True, exist_ok=True)
        for text in texts(only)[int(first) :: int(every)]:
            path = target / file_name(text)
            if path.exists():
                continue
            sound = voice.say(Line(text))
            sound = sound * (_RMS / max(float(np.sqrt((sound**2).mean())), 1e-6))
            edge = np.zeros(round(_EDGE_S * RATE_HZ), np.float32)
            padded = np.clip(np.concatenate([edge, sound, edge]), -1, 1)
            soundfile.write(path, padded, RATE_HZ, subtype="PCM_16")
        sys.stdout.write(f"{voice.name}: {len(list(target.iterdir()))} texts\n")
        sys.stdout.flush()


if __name__ == "__main__":
    only, voices = (sys.argv[3], sys.argv[4:]) if sys.argv[2] == "--list" else ("", sys.argv[2:])
    main(Path(sys.argv[1]), voices, only)
