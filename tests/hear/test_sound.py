"""Recordings of every sort come in as 16 kHz mono int16, and odd ones get one sentence."""

from __future__ import annotations

import os
import struct
import subprocess
import sys
import wave
from pathlib import Path

import numpy as np
import pytest
import soundfile
from hypothesis import given, settings
from hypothesis import strategies as st

from handsfree.errors import SoundError
from handsfree.hear import read_sound
from handsfree.hear.sound import stream_sound, write_wav

pytestmark = pytest.mark.quick


def tone(rate_hz: int, seconds: float = 1.0, hz: float = 440.0, peak: float = 0.5) -> np.ndarray:
    return peak * np.sin(2 * np.pi * hz * np.arange(round(rate_hz * seconds)) / rate_hz)


def main_hz(samples: np.ndarray) -> float:
    spectrum = np.abs(np.fft.rfft(samples * np.hanning(len(samples))))
    return float(np.argmax(spectrum)) * 16000 / len(samples)


@pytest.mark.parametrize("subtype", ["PCM_U8", "PCM_16", "PCM_24", "PCM_32", "FLOAT", "DOUBLE", "ULAW"])
@pytest.mark.parametrize("rate_hz", [8000, 11025, 16000, 22050, 44100, 48000, 96000])
def test_wav_of_any_width_and_rate_keeps_pitch_level_and_length(
    tmp_path: Path, subtype: str, rate_hz: int
) -> None:
    path = tmp_path / "tone.wav"
    soundfile.write(path, tone(rate_hz), rate_hz, subtype=subtype)
    samples = read_sound(path)
    assert samples.dtype == np.int16
    assert abs(len(samples) - 16000) <= 1
    assert abs(main_hz(samples) - 440) < 1.5
    middle = samples[2000:-2000].astype(float)
    assert np.sqrt(np.mean(middle**2)) == pytest.approx(0.5 * 32768 / np.sqrt(2), rel=0.02)


@pytest.mark.parametrize(
    ("name", "subtype"), [("a.flac", "PCM_24"), ("a.ogg", "VORBIS"), ("a.aiff", "PCM_16")]
)
def test_other_formats_are_read(tmp_path: Path, name: str, subtype: str) -> None:
    path = tmp_path / name
    soundfile.write(path, tone(44100), 44100, subtype=subtype)
    samples = read_sound(path)
    assert abs(len(samples) - 16000) <= 1
    assert abs(main_hz(samples) - 440) < 1.5


def test_sixteen_bit_mono_at_16_khz_comes_in_bit_for_bit(tmp_path: Path) -> None:
    path = tmp_path / "noise.wav"
    wanted = np.random.default_rng(1).integers(-32768, 32768, 40000).astype(np.int16)
    write_wav(path, wanted)
    with wave.open(str(path)) as file:
        assert (file.getnchannels(), file.getsampwidth(), file.getframerate()) == (1, 2, 16000)
    assert np.array_equal(read_sound(path), wanted)


@given(st.lists(st.integers(-32768, 32767), min_size=1, max_size=300))
@settings(max_examples=50, deadline=None)
def test_what_is_written_is_read_back(tmp_path_factory: pytest.TempPathFactory, values: list[int]) -> None:
    path = tmp_path_factory.mktemp("round") / "trip.wav"
    write_wav(path, np.array(values, np.int16))
    assert read_sound(path).tolist() == values


def test_channels_are_averaged(tmp_path: Path) -> None:
    path = tmp_path / "three.wav"
    channels = np.array([[300, 0, -150]] * 1000, np.int16)
    soundfile.write(path, channels, 16000, subtype="PCM_16")
    assert set(read_sound(path).tolist()) == {50}


def test_float_beyond_one_is_scaled_as_a_whole_and_never_wraps(tmp_path: Path) -> None:
    path = tmp_path / "loud.wav"
    soundfile.write(path, tone(16000, peak=8.0), 16000, subtype="FLOAT")
    loud = read_sound(path)
    soundfile.write(path, tone(16000, peak=1.0), 16000, subtype="FLOAT")
    assert np.max(np.abs(loud.astype(int) - read_sound(path).astype(int))) <= 1


def test_resampling_full_scale_never_wraps(tmp_path: Path) -> None:
    path = tmp_path / "square.wav"
    soundfile.write(path, np.sign(tone(44100, hz=300)), 44100, subtype="PCM_16")
    samples = read_sound(path).astype(int)
    assert samples.max() == 32767
    assert samples.min() <= -32767
    assert np.max(np.abs(np.diff(samples[500:-500]))) < 60000


def test_what_is_no_number_counts_as_silence(tmp_path: Path) -> None:
    path = tmp_path / "nan.wav"
    sound = tone(16000)
    sound[100:200] = np.nan
    sound[300], sound[400] = np.inf, -np.inf
    soundfile.write(path, sound, 16000, subtype="FLOAT")
    samples = read_sound(path)
    assert not samples[100:200].any()
    assert samples[300] == 0
    assert samples[400] == 0
    assert samples[1000:].max() > 16000


def test_nothing_but_nan_is_silence(tmp_path: Path) -> None:
    path = tmp_path / "nan.wav"
    soundfile.write(path, np.full(1000, np.nan), 16000, subtype="FLOAT")
    assert read_sound(path).tolist() == [0] * 1000


@pytest.mark.parametrize("rate_hz", [16000, 44100])
def test_streamed_pieces_are_the_whole_recording(tmp_path: Path, rate_hz: int) -> None:
    path = tmp_path / "long.wav"
    soundfile.write(path, np.stack([tone(rate_hz, 5.3)] * 2, axis=1), rate_hz)
    pieces = list(stream_sound(path))
    assert len(pieces) >= 5
    assert max(map(len, pieces)) <= 17000
    assert np.array_equal(np.concatenate(pieces), read_sound(path))
    assert abs(sum(map(len, pieces)) - 5.3 * 16000) <= 1


def refused(path: Path) -> str:
    with pytest.raises(SoundError) as caught:
        read_sound(path)
    sentence = str(caught.value)
    assert str(path) in sentence
    assert "\n" not in sentence
    return sentence


def test_missing_file_says_so(tmp_path: Path) -> None:
    assert "There is no recording" in refused(tmp_path / "none.wav")


def test_folder_says_so(tmp_path: Path) -> None:
    assert "is a folder" in refused(tmp_path)


def test_empty_file_says_so(tmp_path: Path) -> None:
    (tmp_path / "empty.wav").touch()
    assert "is empty (0 bytes)" in refused(tmp_path / "empty.wav")


def test_header_without_sound_says_so(tmp_path: Path) -> None:
    soundfile.write(tmp_path / "bare.wav", np.zeros(0), 16000)
    assert "a header and no sound" in refused(tmp_path / "bare.wav")


def test_text_named_wav_says_what_was_found(tmp_path: Path) -> None:
    (tmp_path / "notes.wav").write_text("cylinder three top\n")
    sentence = refused(tmp_path / "notes.wav")
    assert "wanted WAV, FLAC or OGG" in sentence
    assert 'text that begins with "cylinder thr"' in sentence


@pytest.mark.parametrize(
    "content", [b"\x00" * 5000, b"\xff\xfe\x00\x01" * 99, b"RIFF", b"RIFF\x00\x00\x00\x00WAVE"]
)
def test_rubbish_gets_one_sentence(tmp_path: Path, content: bytes) -> None:
    (tmp_path / "rubbish.wav").write_bytes(content)
    refused(tmp_path / "rubbish.wav")


@pytest.mark.parametrize("name", ["rubbish.raw", "rubbish.xyz", "rubbish"])
def test_name_without_a_known_ending_gets_one_sentence(tmp_path: Path, name: str) -> None:
    (tmp_path / name).write_bytes(bytes(range(256)))
    assert "is not a sound file" in refused(tmp_path / name)


def test_pipe_is_refused_and_not_waited_for(tmp_path: Path) -> None:
    os.mkfifo(tmp_path / "pipe.wav")
    assert "is not a file with sound" in refused(tmp_path / "pipe.wav")


@pytest.mark.parametrize(
    ("name", "subtype"),
    [("t.wav", "PCM_16"), ("t.wav", "FLOAT"), ("t.flac", "PCM_16"), ("t.ogg", "VORBIS"), ("t.ogg", "OPUS")],
)
@pytest.mark.parametrize("share", [0.03, 0.5, 0.97])
def test_torn_file_is_refused_with_one_sentence(
    tmp_path: Path, name: str, subtype: str, share: float
) -> None:
    path = tmp_path / name
    soundfile.write(path, np.random.default_rng(2).normal(0, 0.1, 48000), 16000, subtype=subtype)
    whole = path.read_bytes()
    path.write_bytes(whole[: int(len(whole) * share)])
    assert "torn" in refused(path)


def test_flac_spoilt_in_the_middle_says_how_far_it_goes(tmp_path: Path) -> None:
    path = tmp_path / "spoilt.flac"
    soundfile.write(path, np.random.default_rng(2).normal(0, 0.1, 48000), 16000)
    content = bytearray(path.read_bytes())
    content[len(content) // 2 : len(content) // 2 + 500] = bytes(500)
    path.write_bytes(content)
    assert "promises 3.00 s" in refused(path)


def piped(path: Path, size: int) -> None:
    body = struct.pack("<4sI4s4sIHHIIHH", b"RIFF", size, b"WAVE", b"fmt ", 16, 1, 1, 16000, 32000, 2, 16)
    path.write_bytes(body + struct.pack("<4sI", b"data", size) + np.arange(1000, dtype="<i2").tobytes())


@pytest.mark.parametrize("size", [0x7FFFF000, 0xFFFFFFFF])
def test_length_left_open_by_a_pipe_is_read_to_its_end(tmp_path: Path, size: int) -> None:
    piped(tmp_path / "piped.wav", size)
    assert read_sound(tmp_path / "piped.wav").tolist() == list(range(1000))


def test_length_that_was_never_filled_in_says_so(tmp_path: Path) -> None:
    piped(tmp_path / "killed.wav", 0)
    assert "its header was never finished" in refused(tmp_path / "killed.wav")


def test_a_few_samples_a_second_are_refused(tmp_path: Path) -> None:
    soundfile.write(tmp_path / "slow.wav", np.zeros(100), 50)
    assert "50 samples a second" in refused(tmp_path / "slow.wav")


@pytest.mark.skipif(os.geteuid() == 0, reason="root may read every file, so nothing can be forbidden")
def test_file_that_may_not_be_read_says_so(tmp_path: Path) -> None:
    soundfile.write(tmp_path / "mine.wav", tone(16000), 16000)
    (tmp_path / "mine.wav").chmod(0)
    assert "can't be read" in refused(tmp_path / "mine.wav")


def test_writing_where_there_is_no_folder_says_so(tmp_path: Path) -> None:
    with pytest.raises(SoundError, match="can't be written: No such file"):
        write_wav(tmp_path / "none" / "a.wav", np.zeros(10, np.int16))


@pytest.mark.skipif(not Path("/dev/full").exists(), reason="needs Linux's limit on the size of a file")
def test_full_disk_leaves_the_old_file_and_no_half_one(tmp_path: Path) -> None:
    write_wav(tmp_path / "a.wav", np.ones(10, np.int16))
    script = (
        "import resource, signal, sys, numpy as np\n"
        "from handsfree.errors import SoundError\n"
        "from handsfree.hear.sound import write_wav\n"
        "signal.signal(signal.SIGXFSZ, signal.SIG_IGN)\n"
        "resource.setrlimit(resource.RLIMIT_FSIZE, (1000, 1000))\n"
        "try:\n    write_wav(sys.argv[1], np.zeros(90000, np.int16))\n"
        "except SoundError as why:\n    print(why)\n"
    )
    ran = subprocess.run(
        [sys.executable, "-c", script, str(tmp_path / "a.wav")], capture_output=True, text=True, check=True
    )
    assert "can't be written: File too large" in ran.stdout
    assert read_sound(tmp_path / "a.wav").tolist() == [1] * 10
    assert [path.name for path in tmp_path.iterdir()] == ["a.wav"]
