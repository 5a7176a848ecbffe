"""The voice, with the real engine and with workers that hang, die and lie."""

import os
import signal
import subprocess
import sys
import textwrap
from pathlib import Path

import numpy as np
import pytest

from handsfree.errors import VoiceError
from handsfree.speak import CachedVoice, EngineVoice, Reply, Tone, VoiceSettings, render_answer, tone

ROOT = str(Path(__file__).parents[2])
HELLO = Reply("Three top, eighteen thou. File two.", tone=Tone.SHORT)


@pytest.fixture(scope="module")
def voice():
    with EngineVoice() as engine:
        yield engine


def fake(tmp_path, body, **options):
    """A voice whose worker is a script of our own: it greets, then does `body` for each request."""
    script = tmp_path / "worker.py"
    script.write_text(
        textwrap.dedent(
            """
            import json, os, sys, time
            starts = os.path.join(os.path.dirname(__file__), "starts")
            with open(starts, "a") as file:
                file.write("x")
            start = os.path.getsize(starts)
            def say(header, payload=b""):
                sys.stdout.buffer.write(json.dumps(header).encode() + b"\\n" + payload)
                sys.stdout.buffer.flush()
            def well(request):
                say({"id": request["id"], "samplerate_hz": 8000, "bytes": 200}, b"\\x00\\x10" * 100)
            if start > GREETS_FROM:
                say({"ready": "fake"})
            for count, line in enumerate(sys.stdin):
                request = json.loads(line)
            """
        ).replace("GREETS_FROM", str(options.pop("greets_from", 0)))
        + textwrap.indent(textwrap.dedent(body), "    "),
        encoding="utf-8",
    )
    return EngineVoice(command=[sys.executable, str(script)], **options)


def gone(process_id):
    return not Path(f"/proc/{process_id}").exists()


def test_real_voice_gives_speech_of_a_likely_length(voice):
    sound = voice.render(HELLO)
    assert sound.samples.dtype == np.int16
    assert sound.samplerate_hz >= 16_000
    assert 1.5 < sound.duration_s < 5
    assert np.abs(sound.samples.astype(int)).max() > 3_000


def test_real_voice_begins_and_ends_with_speech_not_silence(voice):
    sound = voice.render(HELLO)
    tenth = sound.samplerate_hz // 10
    assert np.abs(sound.samples[:tenth].astype(int)).max() > 500
    assert np.abs(sound.samples[-tenth:].astype(int)).max() > 100


def test_real_voice_speaks_a_hundred_answers_in_one_process(voice):
    """pyttsx3's second runAndWait is known to hang; here there is a hundredth."""
    voice.render(HELLO)
    first = voice.process_id
    lengths = {voice.render(Reply(f"Three top, {number}.")).duration_s for number in range(100)}
    assert voice.process_id == first
    assert len(lengths) > 20


def test_faster_speech_is_shorter():
    with EngineVoice(VoiceSettings(words_per_minute=260)) as fast, EngineVoice() as usual:
        assert fast.render(HELLO).duration_s < 0.8 * usual.render(HELLO).duration_s


def test_unknown_voice_is_refused_and_the_engine_lives_on():
    with EngineVoice(VoiceSettings(voice="nonesuch")) as engine:
        for _ in range(2):
            with pytest.raises(VoiceError, match=r"refused.*nonesuch"):
                engine.render(HELLO)
            assert not gone(engine.process_id)


def test_unknown_engine_is_refused():
    with EngineVoice(VoiceSettings(engine="nonesuch")) as engine, pytest.raises(VoiceError, match="nonesuch"):
        engine.render(HELLO)


def test_detail_that_is_not_spoken_is_not_rendered(voice):
    shown = Reply("Microphone lost. (device 4: a long story of what went wrong)", spoken="Microphone lost.")
    heard, bare = (voice.render(each).duration_s for each in (shown, Reply("Microphone lost.")))
    assert heard == pytest.approx(bare, rel=0.02)  # the engine's noise differs from call to call


def test_no_words_are_no_samples(voice):
    assert len(voice.render(Reply("", tone=Tone.TICK)).samples) == 0


def test_closing_ends_the_process():
    engine = EngineVoice()
    engine.render(HELLO)
    process_id = engine.process_id
    engine.close()
    assert gone(process_id)


@pytest.mark.skipif(sys.platform != "linux", reason="elsewhere a killed process can't remove its folder")
def test_killed_voice_leaves_nothing_in_the_temporary_folder(tmp_path, monkeypatch):
    monkeypatch.setenv("TMPDIR", str(tmp_path))
    monkeypatch.setattr("tempfile.tempdir", None)
    script = (
        "import os\n"
        "from handsfree.speak import EngineVoice, Reply\n"
        "voice = EngineVoice()\n"
        "assert len(voice.render(Reply('one top, eighteen')).samples)\n"
        "os.kill(voice.process_id, 9)\n"
        "os.kill(os.getpid(), 9)\n"
    )
    done = subprocess.run([sys.executable, "-c", script], env=os.environ | {"PYTHONPATH": ROOT}, check=False)
    assert done.returncode == -signal.SIGKILL
    assert list(tmp_path.iterdir()) == []


def test_killed_engine_costs_one_answer(voice):
    voice.render(HELLO)
    voice._worker.process.kill()
    with pytest.raises(VoiceError, match="process ended"):
        voice.render(HELLO)
    assert voice.render(HELLO).duration_s > 1


def test_hang_costs_one_answer_and_the_hung_process_is_killed(tmp_path):
    body = "time.sleep(600) if start == 1 and count == 1 else well(request)"
    with fake(tmp_path, body, timeout_s=60) as engine:
        assert len(engine.render(HELLO).samples)
        hung = engine.process_id
        engine._timeout_s = 0.5
        with pytest.raises(VoiceError, match="took too long"):
            engine.render(HELLO)
        assert gone(hung)
        engine._timeout_s = 60
        assert len(engine.render(HELLO).samples)
        assert engine.process_id != hung


@pytest.mark.parametrize(
    ("body", "why"),
    [
        ("sys.exit()", "process ended"),
        ("print('Audio saved', flush=True)", "process ended"),
        ("print('3', flush=True)", "process ended"),
        ("say({'id': 99, 'samplerate_hz': 8000, 'bytes': 0})", "another question"),
        (
            "say({'id': request['id'], 'samplerate_hz': 8000, 'bytes': 200}, b'x' * 20); sys.exit()",
            "process ended",
        ),
        ("say({'id': request['id'], 'error': 'no'})", "refused: no"),
        ("say({'id': request['id'], 'samplerate_hz': 8000, 'bytes': 200}, bytes(200))", "only silence"),
    ],
)
def test_worker_that_dies_or_lies_is_one_sentence(tmp_path, body, why):
    with fake(tmp_path, body, timeout_s=10) as engine:
        with pytest.raises(VoiceError, match=why) as caught:
            engine.render(HELLO)
        assert str(caught.value).endswith("the answer is on the display")


def test_engine_that_never_starts_is_given_a_rest_instead_of_being_waited_for(tmp_path):
    with fake(tmp_path, "pass", greets_from=100, start_timeout_s=0.3) as engine:
        for _ in range(3):
            with pytest.raises(VoiceError, match="took too long"):
                engine.render(HELLO)
        with pytest.raises(VoiceError, match="doesn't start"):
            engine.render(HELLO)
        engine._rest_until = 0
        with pytest.raises(VoiceError, match="took too long"):
            engine.render(HELLO)


def test_command_that_isnt_there_is_one_sentence(tmp_path):
    with (
        EngineVoice(command=[str(tmp_path / "none")]) as engine,
        pytest.raises(VoiceError, match="can't be started"),
    ):
        engine.render(HELLO)


# ---- answers: tone and words


def test_answer_is_tone_then_words(voice):
    answer = render_answer(HELLO, voice)
    beep = tone(Tone.SHORT, answer.sound.samplerate_hz).samples
    assert answer.fault is None
    assert np.array_equal(answer.sound.samples[: len(beep)], beep)
    assert answer.sound.duration_s > 2
    assert np.abs(answer.sound.samples.astype(int)).max() < 32_767 * 0.75


def test_answer_of_a_broken_voice_is_its_tone_and_says_why(tmp_path):
    with fake(tmp_path, "sys.exit()") as engine:
        answer = render_answer(HELLO, engine)
    assert "process ended" in answer.fault
    assert np.array_equal(answer.sound.samples, tone(Tone.SHORT).samples)


def test_answer_without_voice_or_without_tones():
    assert np.array_equal(render_answer(HELLO, None).sound.samples, tone(Tone.SHORT).samples)
    assert len(render_answer(HELLO, None, tones=False).sound.samples) == 0


# ---- the cache


class Counting:
    signature = "counting/1"

    def __init__(self):
        self.asked = []
        self.broken = False

    def render(self, reply):
        if self.broken:
            raise VoiceError("the voice failed")
        self.asked.append(reply.aloud)
        return render_answer(Reply("", tone=Tone.SHORT), None).sound

    def close(self):
        pass


def test_cached_phrase_is_rendered_once():
    inner = Counting()
    cached = CachedVoice(inner)
    assert np.array_equal(cached.render(HELLO).samples, cached.render(HELLO).samples)
    assert (inner.asked, cached.hits, cached.misses) == ([HELLO.text], 1, 1)


def test_cached_phrase_is_spoken_while_the_engine_is_broken():
    inner = Counting()
    cached = CachedVoice(inner)
    assert cached.warm([HELLO]) == 1
    inner.broken = True
    assert len(cached.render(HELLO).samples)
    with pytest.raises(VoiceError):
        cached.render(Reply("Something else."))
    assert cached.warm([Reply("Something else.")]) == 0


def test_phrases_outlive_the_process_in_a_folder(tmp_path):
    CachedVoice(Counting(), tmp_path).render(HELLO)
    inner = Counting()
    later = CachedVoice(inner, tmp_path).render(HELLO)
    assert inner.asked == []
    assert np.array_equal(later.samples, tone(Tone.SHORT).samples)


def test_another_voice_or_rate_has_phrases_of_its_own(tmp_path):
    CachedVoice(Counting(), tmp_path).render(HELLO)
    inner = Counting()
    inner.signature = "counting/2"
    CachedVoice(inner, tmp_path).render(HELLO)
    assert inner.asked == [HELLO.text]


@pytest.mark.parametrize("damage", [b"", b"RIFF", "half"])
def test_damaged_stored_phrase_is_rendered_anew(tmp_path, damage):
    CachedVoice(Counting(), tmp_path).render(HELLO)
    [stored] = tmp_path.iterdir()
    stored.write_bytes(stored.read_bytes()[:1_000] if damage == "half" else damage)
    inner = Counting()
    CachedVoice(inner, tmp_path).render(HELLO)
    assert inner.asked == [HELLO.text]


def test_folder_that_cant_be_made_leaves_the_voice_working(tmp_path):
    (tmp_path / "file").write_text("in the way")
    cached = CachedVoice(Counting(), tmp_path / "file" / "cache")
    assert len(cached.render(HELLO).samples)


def test_memory_is_bounded_and_the_longest_unused_goes_first():
    inner = Counting()
    size = tone(Tone.SHORT).samples.nbytes
    cached = CachedVoice(inner, most_bytes=2 * size)
    for text in ("a", "b", "a", "c", "a", "b"):
        cached.render(Reply(text))
    assert inner.asked == ["a", "b", "c", "b"]
