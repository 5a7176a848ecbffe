"""The driver for espeak-ng in the voice's process, with a library that sends no events."""

# ruff: noqa: N802, N815 - the names are the library's and pyttsx3's

import ctypes
import io
import sys
import wave

import pytest

from handsfree.errors import VoiceError
from handsfree.speak import VoiceSettings, named_voice, voice_child


class Mute:
    """A library with the calls that are used: it hands over samples and never an event."""

    def __init__(self, status=0):
        self.status = status
        self.asked = []

    def espeak_Initialize(self, *asked):
        self.asked.append(asked)
        return 22_050

    def espeak_SetSynthCallback(self, take):
        self.take = take

    def espeak_SetVoiceByName(self, name):
        self.asked.append(name)
        return -1 if name == b"nonesuch" else 0

    def espeak_SetParameter(self, *asked):
        self.asked.append(asked)
        return 0

    def espeak_Synth(self, text, *_):
        self.asked.append(text)
        for samples in ((1, -2), (3,)):
            self.take((ctypes.c_short * len(samples))(*samples), len(samples), None)
        self.take(None, 0, None)
        return self.status


@pytest.fixture
def library(monkeypatch):
    mute = Mute()
    monkeypatch.setattr(voice_child, "_load_espeak", lambda: (mute, None))
    monkeypatch.setitem(sys.modules, "pyttsx3.drivers.espeak", None)  # put back afterwards
    monkeypatch.setattr("pyttsx3._activeEngines", {})
    return mute


def asked(text, **more):
    return {"id": 1, "text": text, **more}


@pytest.mark.quick
def test_sound_is_whole_though_the_library_never_sends_an_event(library):
    """On Windows and 64-bit ARM the packaged library sends none; pyttsx3's own driver waits for one."""
    engine, name = voice_child.open_engine(None)
    way = voice_child.Way("", name)
    for _ in range(3):
        rate, frames = voice_child.render(engine, asked("eighteen", voice="en-us", words_per_minute=165), way)
        assert (rate, memoryview(frames).cast("h").tolist()) == (22_050, [1, -2, 3])
    assert (name, library.asked.count(b"en-us"), library.asked.count((1, 165, 0))) == ("espeak", 1, 1)


@pytest.mark.quick
def test_library_that_refuses_is_told_apart_from_one_without_sound(library):
    engine, name = voice_child.open_engine("espeak")
    way = voice_child.Way("", name)
    voice_child.render(engine, asked("eighteen"), way)
    with pytest.raises(ValueError, match="nonesuch"):
        voice_child.render(engine, asked("eighteen", voice="nonesuch"), way)
    library.status = 2
    with pytest.raises(OSError, match="status 2"):
        voice_child.render(engine, asked("eighteen"), way)


@pytest.mark.quick
def test_sound_of_an_engine_that_writes_files_comes_back_through_its_file(tmp_path):
    class Writer:
        def connect(self, *_):
            return None

        disconnect = setProperty = connect
        runAndWait = staticmethod(lambda: None)

        def save_to_file(self, _, path):
            with wave.open(path, "wb") as file:
                file.setparams((1, 2, 16_000, 0, "NONE", ""))
                file.writeframes(b"\x01\x00\x02\x00")

    for folder in (str(tmp_path), *([""] if sys.platform == "linux" else [])):
        way = voice_child.Way(folder, "sapi5")
        assert voice_child.render(Writer(), asked("eighteen"), way) == (16_000, b"\x01\x00\x02\x00")
    assert isinstance(voice_child.Way("", "espeak").empty(), io.BytesIO)


@pytest.mark.quick
@pytest.mark.parametrize(
    ("name", "platform", "engine", "voice"),
    [
        (None, "linux", None, None),
        ("en-gb", "win32", None, "en-gb"),
        ("espeak", "darwin", "espeak", None),
        ("espeak:en-gb", "win32", "espeak", "en-gb"),
        ("sapi5", "win32", "sapi5", None),
        ("sapi5:Zira", "win32", "sapi5", "Zira"),
        ("nsss", "darwin", "nsss", None),
    ],
)
def test_voice_on_the_command_line_names_engine_and_voice(name, platform, engine, voice):
    assert named_voice(name, platform) == VoiceSettings(engine, voice)


@pytest.mark.quick
@pytest.mark.parametrize(
    ("platform", "remedy"), [("win32", 'here it is "sapi5"'), ("linux", "use one of espeak's")]
)
def test_engine_of_another_system_is_refused_with_what_is_here(platform, remedy):
    with pytest.raises(VoiceError, match=remedy):
        named_voice("nsss", platform)
