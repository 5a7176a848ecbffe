"""The child process that owns the speech engine, so that it can be killed when it hangs.

Run by its path with FOLDER and optionally ENGINE. FOLDER takes the temporary sound files; the parent
removes it. It is empty on Linux: there the files stay in memory, since a parent may be killed. It starts
with ``{"ready": engine}`` or ``{"error": why}``. A request is ``{"id", "text", "voice",
"words_per_minute"}``; its answer is ``{"id", "samplerate_hz"}`` with int16 samples, or ``{"id", "error"}``.

pyttsx3 has faults that are worked around here: it prints to standard output (so messages go elsewhere), its
`save_to_file` may return before the file is complete (so the file is read until its header and its
size agree), and a second engine breaks the first one's callbacks (so there is one engine for the
life of the process).
"""

from __future__ import annotations

import contextlib
import ctypes
import os
import shutil
import sys
import time
import wave
from pathlib import Path
from typing import Any

from handsfree.child import Parent

_WHOLE_FILE_TIMEOUT_S = 1.0


def prepare_packaged_engine() -> bool:
    """Make pyttsx3 load the packaged espeak-ng; return whether that was possible.

    pyttsx3 asks the loader for "libespeak-ng.so.1"; a library already in the process whose SONAME
    is that one satisfies the request, so no system library and no search path is needed.
    """
    try:
        import espeakng_loader

        library = Path(espeakng_loader.get_library_path())
        data = espeakng_loader.get_data_path()
    except (ImportError, RuntimeError):
        return False
    versioned = library.with_name(library.name + ".1")
    try:
        ctypes.CDLL(str(versioned if versioned.exists() else library), mode=ctypes.RTLD_GLOBAL)
    except OSError:
        return False
    os.environ["ESPEAK_DATA_PATH"] = data
    return True


def open_engine(wanted: str | None) -> tuple[Any, str]:
    """Start the speech engine: the one named, else the system's default, else espeak.

    Returns:
        pyttsx3's engine and the name of its driver.

    Raises:
        Exception: from the last engine that was tried.
    """
    prepare_packaged_engine()
    import pyttsx3
    from pyttsx3.engine import default_engine_by_sys_platform

    names = [wanted] if wanted else list(dict.fromkeys([default_engine_by_sys_platform(), "espeak"]))
    for name in names:
        try:
            engine = pyttsx3.init(name)
        except Exception:
            if name == names[-1]:
                raise
            continue
        if name == "espeak":
            from pyttsx3.drivers import _espeak

            # pyttsx3 passes CHARS_UTF8 with every sentence and has no way to ask for phonemes
            _espeak.CHARS_UTF8 |= _espeak.PHONEMES
            # Every runAndWait begins with a stop. If the library is still finishing the sentence
            # before (seen in 1 of 70 on a busy machine), that stop cancels the new one and leaves
            # an empty file. Nothing is ever stopped here, so it always reports that nothing is playing.
            _espeak.IsPlaying = lambda: 0
        return engine, name
    raise RuntimeError("no speech engine")


class Way:
    """A file through which the engine returns its sound; it accepts only a path.

    Args:
        folder: where to create it; empty for a file in memory, which leaves nothing behind (Linux).
    """

    def __init__(self, folder: str) -> None:
        self._folder = folder
        self._memory = -1
        if folder:
            self.path = Path(folder) / "answer.wav"
        else:
            self._memory = os.memfd_create("answer")
            self.path = Path(f"/proc/self/fd/{self._memory}")

    def empty(self) -> None:
        """Discard the previous sound."""
        if self._folder:
            self.path.unlink(missing_ok=True)
        else:
            os.ftruncate(self._memory, 0)

    def remove(self) -> None:
        """Remove the file, which a killed parent can't do."""
        if self._folder:
            shutil.rmtree(self._folder, ignore_errors=True)


def render(engine: Any, request: dict[str, Any], way: Way) -> tuple[int, bytes]:
    """Render one request through a file.

    Returns:
        Rate in Hz, and int16 samples as bytes.

    Raises:
        Exception: the engine's own fault.
        TimeoutError: it left no complete file.
    """
    way.empty()
    faults: list[Exception] = []
    listening = engine.connect("error", lambda exception, **_: faults.append(exception))
    if request.get("voice"):
        engine.setProperty("voice", request["voice"])
    if request.get("words_per_minute"):
        engine.setProperty("rate", request["words_per_minute"])
    engine.save_to_file(request["text"], str(way.path))
    engine.runAndWait()
    engine.disconnect(listening)
    if faults:  # pyttsx3 would continue with another voice than the one requested
        raise faults[0]
    return read_whole(way.path, time.monotonic() + _WHOLE_FILE_TIMEOUT_S)


def read_whole(path: Path, deadline: float) -> tuple[int, bytes]:
    """Read a sound file once it is complete.

    Args:
        path: a WAV, or whatever else soundfile reads (one engine writes AIFF whatever the name).
        deadline: `time.monotonic` value after which to give up.

    Raises:
        TimeoutError: no complete file by then.
    """
    size = -1
    while True:
        with contextlib.suppress(OSError, EOFError, wave.Error):
            before, size = size, path.stat().st_size
            if size > 0 and size == before:  # the same size twice: the writer has finished
                return _read_wav(path) or _read_any(path)
        if time.monotonic() > deadline:
            raise TimeoutError(f"the engine left no whole sound file ({max(size, 0)} bytes)")
        time.sleep(0.001)


def _read_wav(path: Path) -> tuple[int, bytes] | None:
    try:
        with wave.open(str(path), "rb") as file:
            if file.getsampwidth() != 2 or file.getnchannels() != 1:
                return None
            frames = file.readframes(file.getnframes())
            if not frames or len(frames) != 2 * file.getnframes():
                raise EOFError
            return file.getframerate(), frames
    except wave.Error:
        return None


def _read_any(path: Path) -> tuple[int, bytes]:
    import soundfile

    samples, rate = soundfile.read(str(path), dtype="int16", always_2d=True)
    return rate, samples[:, 0].astype("<i2").tobytes()


def main() -> None:
    """Serve requests until standard input ends."""
    way = Way(sys.argv[1])
    parent = Parent(at_end=way.remove)
    wanted = sys.argv[2] if len(sys.argv) > 2 else None
    try:
        engine, name = open_engine(wanted)
    except Exception as fault:
        parent.send({"error": f"no speech engine starts: {fault or type(fault).__name__}"})
        os._exit(1)
    parent.send({"ready": name})
    while message := parent.receive():
        request, _ = message
        try:
            rate, frames = render(engine, request, way)
        except Exception as fault:
            parent.send({"id": request["id"], "error": f"{type(fault).__name__}: {fault}"})
        else:
            parent.send({"id": request["id"], "samplerate_hz": rate}, frames)


if __name__ == "__main__":
    main()
