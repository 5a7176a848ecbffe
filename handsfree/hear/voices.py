"""Tell voices apart: one vector of length 1 for each utterance, alike for the same voice.

The network is the one that the wheel `resemblyzer` 0.1.4 carries (Apache-2.0; `voices.md` beside it says
more): three recurrent layers over 40 mel bands. The product of two vectors is 1 for the same sound, and
rarely below 0.4 for any two voices; `handsfree.adapt.people` knows what it says of a person.
"""

from __future__ import annotations

from functools import cache, cached_property
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from handsfree.errors import ModelError
from handsfree.hear.heard import SAMPLERATE_HZ, Samples

Floats = NDArray[np.float32]

WEIGHTS = Path(__file__).with_name("voices.onnx")
BANDS = 40
VOICE_SIZE = 256

_WINDOW = 400  # 25 ms
_STEP = 160  # 10 ms
_FRAMES = 160  # 1.6 s: what the network was taught with
_LEVEL_DB = -30.0  # of full scale, likewise
_QUIETEST, _LOUD = 0.1, 0.95  # quantiles over the frames: the room, the voice
_OVER = 1.5  # the room's level over its quietest frames
_KNEE_HZ, _STEP_HZ = 1000.0, 200.0 / 3  # Slaney's scale: even steps up to the knee, even ratios above it
_RATIO = np.log(6.4) / 27.0


def mel_energies(sound: Floats) -> Floats:
    """Return power in 40 mel bands: (n,) in -1..1 at 16 kHz to (1 + n // 160, 40).

    Slaney's triangular filters of equal area over frames of 25 ms, 10 ms apart, the first centred on the
    first sample, with zeros around the sound.
    """
    padded = np.pad(sound, _WINDOW // 2)
    frames = np.lib.stride_tricks.sliding_window_view(padded, _WINDOW)[::_STEP]
    power = np.abs(np.fft.rfft(frames * _hann(), axis=1)) ** 2
    return np.asarray(power @ _filters(), np.float32)


@cache
def _hann() -> Floats:
    return np.asarray(0.5 - 0.5 * np.cos(2 * np.pi * np.arange(_WINDOW) / _WINDOW), np.float32)


@cache
def _filters() -> Floats:
    """Return the filters: (201, 40)."""
    hz = np.fft.rfftfreq(_WINDOW, 1 / SAMPLERATE_HZ)
    corners = _mel_to_hz(np.linspace(0.0, _hz_to_mel(SAMPLERATE_HZ / 2), BANDS + 2))
    rising = (hz[:, None] - corners[:-2]) / np.diff(corners)[:-1]
    falling = (corners[2:] - hz[:, None]) / np.diff(corners)[1:]
    triangles = np.maximum(0.0, np.minimum(rising, falling))
    return np.asarray(triangles * 2.0 / (corners[2:] - corners[:-2]), np.float32)


def _hz_to_mel(hz: float) -> float:
    return hz / _STEP_HZ if hz < _KNEE_HZ else _KNEE_HZ / _STEP_HZ + float(np.log(hz / _KNEE_HZ)) / _RATIO


def _mel_to_hz(mel: NDArray[np.float64]) -> NDArray[np.float64]:
    knee = _KNEE_HZ / _STEP_HZ
    return np.where(mel < knee, mel * _STEP_HZ, _KNEE_HZ * np.exp(_RATIO * (mel - knee)))


class VoiceModel:
    """The network. Loading takes some 30 ms; it is loaded when it is first used."""

    def __init__(self, weights: Path = WEIGHTS) -> None:
        self._weights = weights

    @cached_property
    def _session(self) -> Any:
        import onnxruntime

        options = onnxruntime.SessionOptions()
        options.intra_op_num_threads = 1
        options.log_severity_level = 3
        try:
            return onnxruntime.InferenceSession(str(self._weights), options)
        except Exception as error:  # onnxruntime raises its own unrelated classes
            raise ModelError(
                f"the network that tells voices apart, {self._weights}, can't be loaded: {error}"
            ) from error

    def voice(self, samples: Samples) -> Floats:
        """Return the voice in speech: (n,) int16 at 16 kHz, no silence around it, to (256,) of length 1."""
        mels = without_room(mel_energies(levelled(samples)))
        count = max(1, round(len(mels) / _FRAMES))
        starts = np.linspace(0, max(0, len(mels) - _FRAMES), count).round().astype(int)
        pieces = np.stack([mels[start : start + _FRAMES] for start in starts])
        (voices,) = self._session.run(None, {"mels": pieces})
        mean = np.asarray(voices, np.float32).mean(axis=0)
        return np.asarray(mean / max(float(np.linalg.norm(mean)), 1e-9), np.float32)


def without_room(mels: Floats) -> Floats:
    """Return mel energies less those of steady noise, at the same total: (frames, 40).

    Noise makes all voices alike: without this, what a person says in pink noise at 10 dB is hardly more like
    his own voice in the clean than like another's.
    """
    floor = np.quantile(mels, _QUIETEST, axis=0) * _OVER
    left = np.maximum(mels - floor, 0.0)
    return np.asarray(left * (mels.sum() / max(float(left.sum()), 1e-12)), np.float32)


def clearness_db(samples: Samples) -> float:
    """Return how far the loud parts of an utterance are above its quietest: (n,) int16 at 16 kHz.

    Above 25 dB it was said in the clean: all of 137 people's phrases are, and in pink noise at 10 dB none.
    """
    power = mel_energies(levelled(samples)).sum(axis=1)
    quiet, loud = np.quantile(power, [_QUIETEST, _LOUD]) + 1e-12
    return float(10 * np.log10(loud / quiet))


def levelled(samples: Samples) -> Floats:
    """Return sound at the level that the network was taught with: (n,) int16 to float32."""
    sound = samples.astype(np.float32) / 32_768
    power = float(np.mean(sound**2)) if len(sound) else 0.0
    return np.asarray(sound * (10 ** (_LEVEL_DB / 20) / max(power, 1e-12) ** 0.5), np.float32)
