"""Checks this machine for everything that a session needs, with a remedy for each fault."""

from __future__ import annotations

import ctypes
import importlib.util
import sys
import textwrap
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass
from importlib import import_module
from pathlib import Path
from platform import uname
from types import ModuleType
from typing import Any

from handsfree.errors import HandsfreeError, ModelError, install_extra

WIDTH = 100
"""Width of the table in columns."""

EMBEDDED, DETECTOR = "tiny-en", "silero-vad-6.2"
"""Packaged models by their names in the list of models."""


@dataclass(frozen=True, slots=True)
class ProbeResult:
    """Result of one check.

    found: the thing found, or the fault. remedy: one sentence; empty if there is no fault.
    """

    name: str
    ok: bool
    found: str
    remedy: str = ""


Probe = Callable[[], ProbeResult]


def run_probes(checks: Sequence[tuple[str, Probe]] | None = None) -> list[ProbeResult]:
    """Check everything that a session needs on this system, in the order in which it is needed.

    Never raises: an unexpected failure of a check is reported in its own row.
    """
    wanted = probes_of(sys.platform) if checks is None else checks
    return [_safely(name, check) for name, check in wanted]


def probes_of(platform: str) -> Sequence[tuple[str, Probe]]:
    """Return the checks for a system, by its `sys.platform`."""
    return [("Visual C++ runtime", visual_c), *PROBES] if platform == "win32" else PROBES


def _safely(name: str, check: Probe) -> ProbeResult:
    try:
        return check()
    except HandsfreeError as why:
        return ProbeResult(name, False, str(why), "Do as that sentence says.")
    except Exception as why:
        return ProbeResult(name, False, f"{type(why).__name__}: {why}", "Tell the makers of handsfree of it.")


def table_of(results: Iterable[ProbeResult], width: int = WIDTH) -> str:
    """Return results as a table: a line each, and the remedy below, if any.

    >>> print(table_of([ProbeResult("keypad", False, "none found", "Plug one in.")]))
    no   keypad  none found
                 Remedy: Plug one in.
    """
    rows = list(results)
    column = max((len(row.name) for row in rows), default=0)
    indent = " " * (5 + column + 2)
    lines: list[str] = []
    for row in rows:
        head = f"{'ok' if row.ok else 'no':<5}{row.name:<{column}}  "
        texts = [(head, row.found)]
        if row.remedy:
            texts.append((indent, f"Remedy: {row.remedy}"))
        for first, text in texts:
            lines += textwrap.wrap(
                text,
                width,
                initial_indent=first,
                subsequent_indent=indent,
                break_long_words=False,
                break_on_hyphens=False,
            ) or [first.rstrip()]
    return "\n".join(lines)


def packaged_model(wanted: str) -> ProbeResult:
    """Check the files of a packaged model by its name, without importing its package."""
    from handsfree.hear.models import PackagedModel, known_models

    model = next(m for m in known_models() if isinstance(m, PackagedModel) and m.name == wanted)
    name = "embedded recogniser" if wanted == EMBEDDED else "voice detector"
    missing = model.missing()
    if missing:
        where = f" in {model.folder()}" if model.folder() else ""
        return ProbeResult(
            name,
            False,
            f"missing or not as it should be{where}: {', '.join(missing)}",
            AGAIN if model.taken else _install(model.requirement),
        )
    if wanted == EMBEDDED and importlib.util.find_spec("onnxruntime") is None:
        return ProbeResult(name, False, "onnxruntime is missing", _install("onnxruntime"))
    megabytes = sum(file.size for file in model.files) / 1e6
    return ProbeResult(name, True, f"{model.name} of {model.requirement}, {megabytes:.1f} MB")


_ONLY_ASKED_FOR = "only --recogniser vosk would need it"


def vosk_model() -> ProbeResult:
    """Check for Vosk and a model for it, without loading the model.

    Both are optional, so a missing one is not a fault.
    """
    from handsfree.hear.models import find_vosk_model

    name = "Vosk recogniser"
    if importlib.util.find_spec("vosk") is None:
        return ProbeResult(name, True, f"vosk is not installed; {_ONLY_ASKED_FOR}")
    try:
        folder = find_vosk_model()
    except ModelError as why:
        return ProbeResult(name, False, str(why), "Name another folder, or none.")
    if folder is None:
        return ProbeResult(name, True, f"no model; {_ONLY_ASKED_FOR}")
    return ProbeResult(name, True, f"{folder}; used with --recogniser vosk")


def voice() -> ProbeResult:
    """Check that the voice can render a word, silently."""
    from handsfree.speak import EngineVoice, Reply

    engine = EngineVoice()
    try:
        sound = engine.render(Reply("eighteen"))
    except HandsfreeError as why:
        return ProbeResult("voice", False, str(why), AGAIN)
    finally:
        engine.close()
    return ProbeResult("voice", True, f'{engine.signature}: "eighteen" takes {sound.duration_s:.2f} s')


def _sounddevice() -> ModuleType:
    return import_module("sounddevice")


def sound_device(
    kind: str, load: Callable[[], Any] = _sounddevice, platform: str = sys.platform
) -> ProbeResult:
    """Check for the default microphone ("input") or loudspeaker ("output"), without opening it."""
    name = {"input": "microphone", "output": "loudspeaker"}[kind]
    try:
        devices = load()
        found = [device for device in devices.query_devices() if device[f"max_{kind}_channels"] > 0]
    except ImportError:
        return ProbeResult(name, False, "sounddevice is not installed", _install("sounddevice"))
    except OSError as why:
        return ProbeResult(name, False, f"PortAudio can't be loaded ({why})", _portaudio(platform))
    except Exception as why:  # sounddevice's own error class exists only where it loads
        return ProbeResult(name, False, f"the sound system doesn't answer ({why})", _by(platform, _NO_ANSWER))
    if not found:
        plug = f"Plug a {name} in, or use recordings and keys"
        allow = _by(platform, _ALLOW) if kind == "input" else ""
        return ProbeResult(name, False, "no such device", f"{plug}{allow}.")
    try:
        chosen = devices.query_devices(kind=kind)
    except Exception as why:
        names = ", ".join(device["name"] for device in found)
        remedy = f"Choose one as the default in the system's sound settings; there are {names}."
        return ProbeResult(name, False, f"no default ({why})", remedy)
    rate_khz = chosen["default_samplerate"] / 1000
    return ProbeResult(name, True, f"{chosen['name']}, {rate_khz:g} kHz ({len(found)} to choose from)")


def _portaudio(platform: str) -> str:
    if platform.startswith("linux"):
        return "Install it: sudo apt install libportaudio2 (or your system's package of that name)."
    return AGAIN  # elsewhere sounddevice carries it


def _by(platform: str, advice: Mapping[str, str]) -> str:
    return next(text for system, text in advice.items() if platform.startswith(system))


# By the beginning of `sys.platform`; the last is for every other system. Windows' and macOS's names of
# settings are from memory.
_NO_ANSWER = {
    "linux": "Start the sound server, or log out and in again.",
    "win32": 'Restart the service "Windows Audio", or the computer.',
    "": "Restart the computer.",
}
_ALLOW = {
    "linux": "",
    "win32": "; if one is plugged in, allow it under Settings, Privacy & security, Microphone",
    "darwin": "; if one is plugged in, allow Terminal under System Settings, Privacy & Security, Microphone",
    "": "",
}


def visual_c(load: Callable[[str], object] = ctypes.CDLL) -> ProbeResult:
    """Check for the runtime that the recogniser, the resampler and the voice need on Windows."""
    name = "Visual C++ runtime"
    missing = []
    for library in ("vcruntime140.dll", "vcruntime140_1.dll", "msvcp140.dll"):
        try:
            load(library)
        except OSError:
            missing.append(library)
    if missing:
        remedy = "Install Microsoft's Visual C++ Redistributable for x64."
        return ProbeResult(name, False, f"missing: {', '.join(missing)}", remedy)
    return ProbeResult(name, True, "installed")


def _evdev() -> ModuleType:
    return import_module("evdev")


def keypad(
    load: Callable[[], Any] = _evdev,
    folder: Path = Path("/dev/input"),
    platform: str = sys.platform,
    machine: str = uname().machine,
) -> ProbeResult:
    """Check for a number pad that can be read directly; without one the terminal's keys are used."""
    name = "keypad"
    if not platform.startswith("linux"):
        return ProbeResult(name, True, "read from the terminal, as on every system but Linux")
    try:
        evdev = load()
    except ImportError:
        if machine != "x86_64":
            return ProbeResult(name, True, f"read from the terminal, as on every {machine}")
        return ProbeResult(
            name,
            False,
            "evdev is not installed; keys are read from the terminal",
            f"Install it: {install_extra('keypad')}.",
        )
    present = sorted(folder.glob("event*"))
    readable = evdev.list_devices(str(folder))
    if not present:
        return ProbeResult(
            name, False, "no input devices", "Plug a number pad in; till then use the terminal."
        )
    if not readable:
        return ProbeResult(
            name,
            False,
            f"{len(present)} input devices, none of which may be read",
            "Allow it: sudo usermod -aG input $USER, then log out and in again; your other programs may then "
            "read every keyboard, too, so leave it if you share the computer.",
        )
    pads = [device.name for device in map(evdev.InputDevice, readable) if _is_pad(evdev, device)]
    if not pads:
        return ProbeResult(
            name,
            False,
            f"{len(readable)} input devices, no number pad",
            "Plug a number pad in; till then use the terminal.",
        )
    return ProbeResult(name, True, ", ".join(pads))


def _is_pad(evdev: Any, device: Any) -> bool:
    codes = evdev.ecodes
    keys = set(device.capabilities().get(codes.EV_KEY, ()))
    device.close()
    return {codes.KEY_KP0, codes.KEY_KP9, codes.KEY_KPENTER} <= keys


AGAIN = "Run handsfree's installer again (./demo/run in its source)."
"""The remedy for a part that came with the program."""


def _install(what: str) -> str:
    """Return what installs a package, into this program's Python and no other."""
    return f'Install it: "{sys.executable}" -m pip install {what}'


def own_voice() -> ProbeResult:
    """Check for an adaptation to the user's voice."""
    from handsfree.adapt import adaptation_path, load_adaptation

    found = load_adaptation()
    if found is None:
        return ProbeResult("own voice", True, "nothing learned; everybody is heard alike")
    day = found.made.partition("T")[0]
    learned = f"learned from {found.recordings} recordings on {day}, in {adaptation_path()}"
    return ProbeResult("own voice", True, learned)


PROBES: Sequence[tuple[str, Probe]] = (
    ("embedded recogniser", lambda: packaged_model(EMBEDDED)),
    ("voice detector", lambda: packaged_model(DETECTOR)),
    ("Vosk recogniser", vosk_model),
    ("own voice", own_voice),
    ("voice", voice),
    ("microphone", lambda: sound_device("input")),
    ("loudspeaker", lambda: sound_device("output")),
    ("keypad", keypad),
)
