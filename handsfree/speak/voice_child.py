"""The child process that owns the speech engine, so that it can be killed when it hangs.

Run by its path with FOLDER and optionally ENGINE. FOLDER takes the sound files of engines that give their
sound in no other way; the parent removes it. It is empty on Linux: there such a file stays in memory, since a
parent may be killed. The child starts with ``{"ready": engine}`` or ``{"error": why}``. A request is
``{"id", "text", "voice", "words_per_minute"}``; its answer is ``{"id", "samplerate_hz"}`` with int16 samples,
or ``{"id", "error"}``.

pyttsx3 is the interface to every engine. Its own driver for espeak-ng waits for an event that the packaged
library never sends on Windows and on 64-bit ARM, and looks for the library at fixed places. `EspeakDriver`
replaces it: it loads the packaged library and has the sound when the call returns, on every system.

Other drivers have faults that are worked around here: they print to standard output (so messages go
elsewhere), `save_to_file` may return before the file is complete (so the file is read until its header and
its size agree), and a second engine breaks the first one's callbacks (so there is one engine for the life of
the process).
"""

from __future__ import annotations

import contextlib
import ctypes
import ctypes.util
import io
import os
import shutil
import sys
import time
import types
import wave
from collections.abc import Iterator
from pathlib import Path
from typing import Any

from handsfree.child import Parent

_WHOLE_FILE_TIMEOUT_S = 1.0

ESPEAK = "espeak"
"""The name of the driver for espeak-ng; in this process it is `EspeakDriver`."""

# espeak-ng's speak_lib.h
_SYNCHRONOUS = 2  # espeak_Synth returns when the last sample was handed over
_DONT_EXIT = 0x8000  # missing data is an error code, not the end of the process
_CHARS_UTF8, _PHONEMES, _ENDPAUSE = 1, 0x100, 0x1000
_PARAMETERS = {"rate": 1, "volume": 2}
_TAKE_SAMPLES = ctypes.CFUNCTYPE(ctypes.c_int, ctypes.POINTER(ctypes.c_short), ctypes.c_int, ctypes.c_void_p)


class EspeakDriver:
    """A driver of pyttsx3 for espeak-ng that calls the library synchronously.

    It renders to files and to file objects, and plays nothing. A sentence may hold phonemes in double
    brackets.

    Args:
        proxy: pyttsx3's proxy, which calls this driver.

    Raises:
        OSError: there is no library, or its data are missing.
    """

    def __init__(self, proxy: Any) -> None:
        self._proxy = proxy
        self._sound = bytearray()
        self._settings: dict[str, Any] = {}
        self._library, data = _load_espeak()
        self._take = _TAKE_SAMPLES(self._taken)  # kept: the library holds only its address
        self._rate_hz = self._library.espeak_Initialize(_SYNCHRONOUS, 0, data, _DONT_EXIT)
        if self._rate_hz <= 0:
            raise OSError(f"espeak-ng finds no data in {os.fsdecode(data) if data else 'its own folder'}")
        self._library.espeak_SetSynthCallback(self._take)

    def startLoop(self) -> None:  # noqa: N802 - pyttsx3's name
        """Carry out what was asked for; nothing is left to wait for."""
        self._proxy.setBusy(False)

    def endLoop(self) -> None:  # noqa: N802
        """Do nothing: the loop has no turns."""

    def iterate(self) -> Iterator[None]:
        """Carry out what was asked for, in a loop of the caller's."""
        self._proxy.setBusy(False)
        yield

    def stop(self) -> None:
        """Do nothing: no sentence is ever under way when this can be called."""

    def say(self, text: str) -> None:
        """Refuse: sound is played elsewhere."""
        raise NotImplementedError("this driver renders sound and doesn't play it")

    def save_to_file(self, text: str, filename: Any) -> None:
        """Render a sentence as a WAV into a file, by its path or as an open one.

        Raises:
            OSError: the library refused, or gave no sound.
        """
        self._sound.clear()
        sent = text.encode() + b"\0"
        flags = _CHARS_UTF8 | _PHONEMES | _ENDPAUSE
        status = self._library.espeak_Synth(sent, len(sent), 0, 0, 0, flags, None, None)
        if status or not self._sound:
            raise OSError(f"espeak-ng gave no sound (status {status})")
        with wave.open(filename, "wb") as file:
            file.setnchannels(1)
            file.setsampwidth(2)
            file.setframerate(self._rate_hz)
            file.writeframes(bytes(self._sound))

    def getProperty(self, name: str) -> Any:  # noqa: N802
        """Return a property that was set, or None."""
        return self._settings.get(name)

    def setProperty(self, name: str, value: Any) -> None:  # noqa: N802
        """Set "voice" (a name), "rate" (words a minute) or "volume" (0 to 1).

        Raises:
            KeyError: there is no such property.
            ValueError: there is no such voice.
        """
        if self._settings.get(name) == value:
            return
        if name == "voice":
            status = self._library.espeak_SetVoiceByName(str(value).encode())
        else:
            amount = round(value * 100) if name == "volume" else round(value)
            status = self._library.espeak_SetParameter(_PARAMETERS[name], amount, 0)
        if status:
            raise ValueError(f'espeak-ng refused the {name} "{value}"')
        self._settings[name] = value

    def destroy(self) -> None:
        """Do nothing: the library lives as long as the process."""

    def _taken(self, samples: Any, count: int, _events: object) -> int:
        if samples and count > 0:
            self._sound += ctypes.string_at(samples, 2 * count)
        return 0  # go on


def _load_espeak() -> tuple[Any, bytes | None]:
    """Return the packaged library, else the system's, and the folder with its data (None: its own).

    Raises:
        OSError: there is neither.
    """
    try:
        import espeakng_loader

        library = ctypes.CDLL(espeakng_loader.get_library_path())
        data = _in_library_encoding(Path(espeakng_loader.get_data_path()).parent)
    except (ImportError, RuntimeError, OSError) as fault:
        found = ctypes.util.find_library("espeak-ng")
        if found is None:
            raise OSError(f"the packaged espeak-ng can't be loaded ({fault})") from fault
        library, data = ctypes.CDLL(found), None
    library.espeak_Initialize.argtypes = (ctypes.c_int, ctypes.c_int, ctypes.c_char_p, ctypes.c_int)
    library.espeak_SetSynthCallback.argtypes = (_TAKE_SAMPLES,)
    library.espeak_SetSynthCallback.restype = None
    library.espeak_SetVoiceByName.argtypes = (ctypes.c_char_p,)
    library.espeak_SetParameter.argtypes = (ctypes.c_int, ctypes.c_int, ctypes.c_int)
    library.espeak_Synth.argtypes = (
        ctypes.c_char_p,
        ctypes.c_size_t,
        ctypes.c_uint,
        ctypes.c_int,
        ctypes.c_uint,
        ctypes.c_uint,
        ctypes.c_void_p,
        ctypes.c_void_p,
    )
    return library, data


def _in_library_encoding(folder: Path) -> bytes:
    """Return a path as the library opens it: in the code page on Windows."""
    if sys.platform != "win32":
        return os.fsencode(folder)
    try:
        return str(folder).encode("mbcs", errors="strict")
    except UnicodeEncodeError:  # a name of letters that the code page lacks: its short form has none
        short = ctypes.create_unicode_buffer(1024)
        ctypes.windll.kernel32.GetShortPathNameW(str(folder), short, len(short))
        return short.value.encode("mbcs")


def open_engine(wanted: str | None) -> tuple[Any, str]:
    """Start the speech engine: the one named, else espeak, else the system's own.

    Returns:
        pyttsx3's engine and the name of its driver.

    Raises:
        Exception: from the last engine that was tried.
    """
    import pyttsx3
    from pyttsx3.engine import default_engine_by_sys_platform

    driver = types.ModuleType(f"pyttsx3.drivers.{ESPEAK}")
    driver.buildDriver = EspeakDriver  # type: ignore[attr-defined]
    sys.modules[driver.__name__] = driver  # pyttsx3 imports a driver by this name
    names = [wanted] if wanted else list(dict.fromkeys([ESPEAK, default_engine_by_sys_platform()]))
    for name in names:
        try:
            return pyttsx3.init(name), name
        except Exception:
            if name == names[-1]:
                raise
    raise RuntimeError("no speech engine")


class Way:
    """The way by which sound comes back: in memory from espeak; other engines accept only a file's path.

    Args:
        folder: where to create the file; empty for one in memory, which leaves nothing behind (Linux).
        engine: the name of the engine's driver.
    """

    def __init__(self, folder: str, engine: str) -> None:
        self._folder = folder
        self.path: Path | None = None
        if engine != ESPEAK:
            if folder:
                self.path = Path(folder) / "answer.wav"
            else:
                self._memory = os.memfd_create("answer")
                self.path = Path(f"/proc/self/fd/{self._memory}")

    def empty(self) -> str | io.BytesIO:
        """Return what the engine is to write to, without the previous sound."""
        if self.path is None:
            return io.BytesIO()
        if self._folder:
            self.path.unlink(missing_ok=True)
        else:
            os.ftruncate(self._memory, 0)
        return str(self.path)


def render(engine: Any, request: dict[str, Any], way: Way) -> tuple[int, bytes]:
    """Render one request.

    Returns:
        Rate in Hz, and int16 samples as bytes.

    Raises:
        Exception: the engine's own fault.
        TimeoutError: it left no complete file.
    """
    out = way.empty()
    faults: list[Exception] = []
    listening = engine.connect("error", lambda exception, **_: faults.append(exception))
    if request.get("voice"):
        engine.setProperty("voice", request["voice"])
    if request.get("words_per_minute"):
        engine.setProperty("rate", request["words_per_minute"])
    engine.save_to_file(request["text"], out)
    engine.runAndWait()
    engine.disconnect(listening)
    if faults:  # pyttsx3 would continue with another voice than the one requested
        raise faults[0]
    if isinstance(out, io.BytesIO):
        out.seek(0)
        with wave.open(out, "rb") as file:
            return file.getframerate(), file.readframes(file.getnframes())
    return read_whole(Path(out), time.monotonic() + _WHOLE_FILE_TIMEOUT_S)


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
    folder = sys.argv[1]

    def remove() -> None:  # a killed parent can't do that
        if folder:
            shutil.rmtree(folder, ignore_errors=True)

    parent = Parent(at_end=remove)
    wanted = sys.argv[2] if len(sys.argv) > 2 else None
    try:
        engine, name = open_engine(wanted)
        way = Way(folder, name)
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
