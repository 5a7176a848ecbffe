"""A room without walls: a sound server of the test's own, with one stereo null sink as the air.

What is played into `room` is heard by the microphone `mic`; what the program plays goes to
`speaker`. Both sides are the left and the right channel of the same sink, so that one recording of
its monitor holds them sample for sample, and times between them can be read off.
"""

from __future__ import annotations

import contextlib
import os
import shutil
import subprocess
import tempfile
import time
import wave
from collections.abc import Iterator
from pathlib import Path

import numpy as np

RATE_HZ = 48_000


def available() -> bool:
    """Return whether a sound server can be run here."""
    return all(shutil.which(name) for name in ("pulseaudio", "pactl", "pacat"))


class Room:
    """A running sound server; use it as a context manager."""

    def __init__(self) -> None:
        self.folder = Path(tempfile.mkdtemp(prefix="handsfree-room-"))
        self.server: subprocess.Popen[bytes] | None = None
        self._clock: subprocess.Popen[bytes] | None = None
        self._modules: dict[str, str] = {}
        (self.folder / "asound.conf").write_text(
            "pcm.!default { type pulse }\nctl.!default { type pulse }\n", encoding="utf-8"
        )

    def __enter__(self) -> Room:
        self.start()
        return self

    def __exit__(self, *exc: object) -> None:
        self.stop()
        shutil.rmtree(self.folder, ignore_errors=True)

    @property
    def env(self) -> dict[str, str]:
        """The environment of a program in this room."""
        return os.environ | {
            "PULSE_RUNTIME_PATH": str(self.folder),
            "PULSE_SERVER": f"unix:{self.folder}/native",
            "PULSE_SINK": "speaker",
            "PULSE_SOURCE": "mic",
            "XDG_CONFIG_HOME": str(self.folder),
        }

    def start(self) -> None:
        """Start the server and furnish the room."""
        log = (self.folder / "log").open("ab")
        self.server = subprocess.Popen(
            [
                "pulseaudio",
                *["-n", "--daemonize=no", "--exit-idle-time=-1", "--disable-shm=yes", "--use-pid-file=no"],
                *["-L", f"module-native-protocol-unix socket={self.folder}/native"],
            ],
            env=self.env | {"HOME": str(self.folder)},
            stdout=log,
            stderr=log,
        )
        log.close()
        deadline = time.monotonic() + 20
        while subprocess.run(["pactl", "info"], env=self.env, capture_output=True, check=False).returncode:
            if time.monotonic() > deadline:
                raise RuntimeError((self.folder / "log").read_text(errors="replace"))
            time.sleep(0.05)
        self._load("air", f"module-null-sink sink_name=air rate={RATE_HZ} channels=2")
        self._load(
            "room",
            "module-remap-sink sink_name=room master=air channels=1 channel_map=front-left "
            "master_channel_map=front-left remix=no",
        )
        self.plug_in_speaker()
        self.plug_in_microphone()
        # A null sink that nobody listens to moves in steps of two seconds; a listener in a hurry
        # makes it keep time as a sound card does.
        self._clock = subprocess.Popen(
            ["pacat", "--record", "--device=air.monitor", "--raw", "--latency-msec=10", "/dev/null"],
            env=self.env,
            stderr=subprocess.DEVNULL,
        )
        hush = write_wav(self.folder / "hush.wav", np.zeros(RATE_HZ // 5, dtype=np.int16), RATE_HZ)
        for side in ("room", "speaker"):  # the first step after the start is a long one all the same
            subprocess.run(
                ["paplay", f"--device={side}", "--latency-msec=20", str(hush)], env=self.env, check=True
            )

    def stop(self) -> None:
        """Stop the server as a crash would."""
        if self.server is not None:
            self.server.kill()
            self.server.wait()
            self.server = None
        if self._clock is not None:
            self._clock.kill()
            self._clock.wait()
            self._clock = None
        (self.folder / "native").unlink(missing_ok=True)

    def plug_in_microphone(self) -> None:
        """Add the microphone and make it the default."""
        self._load(
            "mic",
            "module-remap-source source_name=mic master=air.monitor channels=1 channel_map=front-left "
            "master_channel_map=front-left remix=no",
        )
        self._pactl("set-default-source", "mic")

    def plug_in_speaker(self) -> None:
        """Add the loudspeaker and make it the default."""
        self._load(
            "speaker",
            "module-remap-sink sink_name=speaker master=air channels=1 channel_map=front-right "
            "master_channel_map=front-right remix=no",
        )
        self._pactl("set-default-sink", "speaker")

    def unplug(self, name: str) -> None:
        """Take "mic" or "speaker" away."""
        self._pactl("unload-module", self._modules.pop(name))

    def echo(self) -> None:
        """Let the microphone hear the loudspeaker, as in a room without a headset; `hush_echo` ends it.

        It is plugged in anew as one that hears both sides of the air, at the same instant: a program between
        them comes late on a busy machine, and ever later.
        """
        self.unplug("mic")
        self._load(
            "mic",
            "module-remap-source source_name=mic master=air.monitor channels=1 channel_map=mono remix=yes",
        )
        self._pactl("set-default-source", "mic")

    def hush_echo(self) -> None:
        """Let the microphone no longer hear the loudspeaker."""
        self.unplug("mic")
        self.plug_in_microphone()

    def say(self, wav: Path, *, wait: bool = True) -> subprocess.Popen[bytes]:
        """Play a sound file where the microphone hears it."""
        player = subprocess.Popen(
            # a buffer that a busy machine doesn't empty: speech with holes in it is other speech
            ["paplay", "--device=room", "--latency-msec=500", str(wav)],
            env=self.env,
            stderr=subprocess.DEVNULL,
        )
        if wait:
            player.wait()
        return player

    @contextlib.contextmanager
    def recording(self, device: str = "air.monitor") -> Iterator[Recording]:
        """Record both sides of the room while the block runs, or twice what another device hears."""
        path = self.folder / f"both-{time.monotonic_ns()}.raw"
        recorder = subprocess.Popen(
            [
                *["pacat", "--record", f"--device={device}", "--raw", "--format=s16le"],
                *["--channels=2", f"--rate={RATE_HZ}", "--latency-msec=20", str(path)],
            ],
            env=self.env,
        )
        while not path.exists() or not path.stat().st_size:
            time.sleep(0.01)
        recording = Recording(path)
        try:
            yield recording
        finally:
            time.sleep(0.1)
            recorder.terminate()
            recorder.wait()

    def _load(self, name: str, arguments: str) -> None:
        self._modules[name] = self._pactl("load-module", *arguments.split()).strip()

    def _pactl(self, *arguments: str) -> str:
        done = subprocess.run(["pactl", *arguments], env=self.env, capture_output=True, text=True, check=True)
        return done.stdout


class Recording:
    """Both sides of the room: what the microphone heard, and what the loudspeaker played."""

    def __init__(self, path: Path) -> None:
        self.path = path

    @property
    def sides(self) -> tuple[np.ndarray, np.ndarray]:
        """Heard and played: (n,) int16 each, 48 kHz, sample for sample."""
        data = np.frombuffer(self.path.read_bytes(), dtype="<i2")
        pairs = data[: len(data) // 2 * 2].reshape(-1, 2)
        return pairs[:, 0].copy(), pairs[:, 1].copy()


def write_wav(path: Path, samples: np.ndarray, rate_hz: int) -> Path:
    """Write (n,) int16 samples."""
    with wave.open(str(path), "wb") as file:
        file.setnchannels(1)
        file.setsampwidth(2)
        file.setframerate(rate_hz)
        file.writeframes(samples.astype("<i2").tobytes())
    return path


def spans(
    samples: np.ndarray, rate_hz: int, *, floor: int = 300, gap_s: float = 0.25
) -> list[tuple[float, float]]:
    """Find where it is loud: (start, end) in seconds, joined over gaps shorter than `gap_s`."""
    loud = np.flatnonzero(np.abs(samples.astype(np.int32)) > floor)
    if not len(loud):
        return []
    breaks = np.flatnonzero(np.diff(loud) > gap_s * rate_hz)
    starts = [loud[0], *loud[breaks + 1]]
    ends = [*loud[breaks], loud[-1]]
    return [(float(a / rate_hz), float((b + 1) / rate_hz)) for a, b in zip(starts, ends, strict=True)]
