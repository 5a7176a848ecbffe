"""The voice where no speech library is installed: the packaged espeak-ng alone must do.

The system's library is hidden from a process by mounting empty files over it, in a mount namespace
of the test's own (unshare(1) of util-linux), which needs root. What is loaded is read from the
kernel's own list, /proc/PID/maps (proc(5)).
"""

import os
import shutil
import subprocess
import sys
import wave
from pathlib import Path

import espeakng_loader
import numpy as np
import pytest

from handsfree.speak import EngineVoice, Reply, Sound
from handsfree.speak.sound import trimmed
from handsfree.speak.voice import pronounceable

pytestmark = pytest.mark.skipif(sys.platform != "linux", reason="reads /proc")

PACKAGED = Path(espeakng_loader.get_library_path()).parent


def loaded(process_id):
    maps = Path(f"/proc/{process_id}/maps").read_text(encoding="utf-8")
    return {line.split()[-1] for line in maps.splitlines() if "espeak" in line.split()[-1]}


def test_library_in_use_is_the_packaged_one_even_where_another_is_installed():
    with EngineVoice() as voice:
        voice.render(Reply("Say again?"))
        libraries = {path for path in loaded(voice.process_id) if ".so" in path}
    assert libraries
    assert all(Path(path).parent == PACKAGED for path in libraries)


HIDDEN = """
import glob, subprocess
from handsfree.speak import EngineVoice, Reply
for path in glob.glob("/usr/lib/*/libespeak*") + glob.glob("/usr/lib/libespeak*"):
    subprocess.run(["mount", "--bind", "/dev/null", path], check=True)
for path in glob.glob("/usr/lib/*/espeak-ng-data") + glob.glob("/usr/share/espeak*"):
    subprocess.run(["mount", "-t", "tmpfs", "none", path], check=True)
import ctypes
try:
    ctypes.CDLL("libespeak-ng.so.1")
except OSError:
    print("hidden")
with EngineVoice() as voice:
    print(round(voice.render(Reply("Three top, eighteen thou.")).duration_s, 1))
"""


@pytest.mark.skipif(os.geteuid() != 0 or not shutil.which("unshare"), reason="needs root and unshare")
def test_voice_speaks_where_the_system_library_is_hidden():
    done = subprocess.run(
        ["unshare", "--mount", sys.executable, "-c", HIDDEN],
        capture_output=True,
        text=True,
        timeout=60,
        check=False,
        env=os.environ | {"PYTHONPATH": str(Path(__file__).parents[2])},
    )
    if "unshare" in done.stderr and "not permitted" in done.stderr:
        pytest.skip("no mount namespaces here")
    said = done.stdout.split()
    assert said[0] == "hidden", done.stderr
    assert 1 < float(said[1]) < 4


PHONEMES = """
import ctypes, sys
library = ctypes.CDLL(sys.argv[1] + "/libespeak-ng.so.1")
library.espeak_Initialize(1, 0, sys.argv[1].encode(), 0)
library.espeak_SetVoiceByName(b"en")
library.espeak_TextToPhonemes.restype = ctypes.c_char_p
library.espeak_TextToPhonemes.argtypes = [ctypes.c_void_p, ctypes.c_int, ctypes.c_int]
for text in sys.argv[2:]:
    pointer = ctypes.c_char_p(text.encode())
    print(library.espeak_TextToPhonemes(ctypes.byref(pointer), 1, 0).decode().strip())
"""


def test_thou_is_spoken_as_in_thousand_and_not_as_the_pronoun():
    """Source: espeak-ng's own phonemes for "thousand", from its English dictionary."""
    texts = ["thousand", "thou", pronounceable("thou", "sapi5")]
    done = subprocess.run(
        [sys.executable, "-c", PHONEMES, str(PACKAGED), *texts], capture_output=True, text=True, check=True
    )
    thousand, pronoun, respelled = done.stdout.split()
    assert thousand.startswith("T'aU")
    assert pronoun == "D'aU"
    assert respelled == "T'aU"
    assert pronounceable("thou", "espeak") == "[[T'aU]]"


BY_PYTTSX3 = """
import ctypes, os, sys, wave
import espeakng_loader, pyttsx3
ctypes.CDLL(espeakng_loader.get_library_path() + ".1", mode=ctypes.RTLD_GLOBAL)
os.environ["ESPEAK_DATA_PATH"] = espeakng_loader.get_data_path()
engine = pyttsx3.init("espeak")
engine.setProperty("voice", "en-us")
engine.setProperty("rate", 180)
engine.save_to_file("Three top, eighteen.", sys.argv[1])
engine.runAndWait()
"""


def test_sound_is_that_of_pyttsx3s_own_driver_sample_for_sample(tmp_path):
    """Source: the driver for espeak in pyttsx3 2.99, where the events that it waits for come."""
    path = tmp_path / "own.wav"
    subprocess.run([sys.executable, "-c", BY_PYTTSX3, str(path)], capture_output=True, check=True, timeout=60)
    with wave.open(str(path), "rb") as file:
        theirs = np.frombuffer(file.readframes(file.getnframes()), dtype="<i2")
    with EngineVoice() as voice:
        ours = voice.render(Reply("Three top, eighteen."))
        assert ours.samplerate_hz == file.getframerate()
    assert np.array_equal(ours.samples, trimmed(Sound(theirs, ours.samplerate_hz)).samples)
