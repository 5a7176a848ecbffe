"""`handsfree bench` as a person starts it, in a room of PulseAudio's null sinks, with real recordings."""

import queue
import shutil
import signal
import subprocess
import sys
import threading
import time
from pathlib import Path

import pytest

from handsfree.bench import Bench
from handsfree.hear import read_sound
from handsfree.journal import Journal
from handsfree.planfile import load_plan
from handsfree.session import fold
from tests.support.room import RATE_HZ, Room, available, spans, write_wav

pytestmark = pytest.mark.skipif(not available(), reason="no PulseAudio here")

ROOT = Path(__file__).parents[2]
PLAN = ROOT / "demo" / "plan.toml"
RECORDINGS = ROOT / "demo" / "recordings"


class Running:
    """A bench in a process of its own, with its lines."""

    def __init__(self, room, journal, *options):
        command = [sys.executable, "-m", "handsfree.cli", "bench", str(PLAN), "--journal", str(journal)]
        self.process = subprocess.Popen(
            [*command, "--plain", "--recogniser", "phrase", *options],
            env=room.env | {"PYTHONPATH": str(ROOT), "XDG_CACHE_HOME": str(room.folder)},
            stdin=subprocess.DEVNULL,
            stdout=subprocess.PIPE,
            stderr=subprocess.STDOUT,
            text=True,
        )
        self._lines = queue.Queue()
        self.said = []
        self._reader = threading.Thread(target=self._read, daemon=True)
        self._reader.start()

    def _read(self):
        for line in self.process.stdout:
            self._lines.put(line.rstrip("\n"))

    def wait_for(self, start, seconds=120):
        """Wait for a line that begins so."""
        until = time.monotonic() + seconds
        while time.monotonic() < until:
            try:
                self.said.append(self._lines.get(timeout=0.2))
            except queue.Empty:
                assert self.process.poll() is None, self.said
                continue
            if self.said[-1].startswith(start):
                return self.said[-1]
        raise AssertionError(f"nothing began with {start!r} among {self.said}")

    def more(self, seconds):
        """Give the lines that still come within some seconds."""
        time.sleep(seconds)
        lines = []
        while not self._lines.empty():
            lines.append(self._lines.get())
        self.said += lines
        return lines

    def end(self, number=signal.SIGTERM):
        self.process.send_signal(number)
        status = self.process.wait(timeout=60)
        self._reader.join(timeout=60)
        self.process.stdout.close()
        return status


def begin(path):
    """Begin a session, so that the greeting is short: cautions are spoken once, at its beginning."""
    if not path.exists():
        with Journal.open(path) as journal:
            Bench(load_plan(PLAN), journal).open()


@pytest.fixture(scope="module")
def room():
    with Room() as server:
        yield server


def wait_for_silence(both, seconds=60):
    """Wait until the greeting was spoken and the ears are open: on a busy machine that takes its time."""
    until = time.monotonic() + seconds
    while time.monotonic() < until:
        time.sleep(0.5)
        heard, played = both.sides
        spoken = spans(played, RATE_HZ, gap_s=1.0)
        ended = max((end for _, end in [*spoken, *spans(heard, RATE_HZ, gap_s=1.0)]), default=0.0)
        if spoken and spoken[-1][1] - spoken[0][0] > 2 and len(played) / RATE_HZ - ended > 2:
            return
    raise AssertionError("the greeting was not heard to its end")


@pytest.fixture
def start(room, tmp_path):
    benches = []

    def make(*options, journal="log.journal"):
        begin(tmp_path / journal)
        with room.recording() as both:
            benches.append(Running(room, tmp_path / journal, *options))
            benches[-1].wait_for("answer: ")
            wait_for_silence(both)
        return benches[-1]

    yield make
    for bench in benches:
        if bench.process.poll() is None:
            bench.process.kill()
            bench.process.wait()
        bench.process.stdout.close()


def recording(tmp_path, name):
    return write_wav(tmp_path / f"{name}.wav", read_sound(RECORDINGS / f"{name}.ogg"), 16_000)


def logged(path):
    plan = load_plan(PLAN)
    with Journal.open(path) as journal:
        return [str(entry.value) for entry in fold(plan, journal.events()).log()]


def test_spoken_reading_is_answered_aloud_and_kept(room, start, tmp_path):
    bench = start()
    with room.recording() as both:
        room.say(recording(tmp_path, "01-michael"))
        bench.wait_for("answer: One top, fourteen and a half. File three and a half.")
        time.sleep(5)
    heard, played = both.sides
    [(began, ended)] = spans(played, RATE_HZ, gap_s=1.0)
    assert ended - began > 2
    assert began > spans(heard, RATE_HZ, gap_s=1.0)[-1][1]
    assert bench.end() == 0
    assert logged(tmp_path / "log.journal") == ["14.5 thou"]


def test_bench_doesnt_hear_itself(room, start, tmp_path):
    """The microphone hears the loudspeaker as loud as it is; one reading must stay one."""
    room.echo()
    try:
        bench = start()
        with room.recording() as both, room.recording("mic") as microphone:
            room.say(recording(tmp_path, "01-michael"))
            bench.wait_for("answer: One top, fourteen and a half.")
            assert bench.more(8) == []
        said, played = (spans(side, RATE_HZ, gap_s=1.0) for side in both.sides)
        heard = spans(microphone.sides[0], RATE_HZ, gap_s=1.0)
        assert heard[-1][1] - heard[0][0] > played[-1][1] - said[0][0] - 0.5  # it did hear the answer, too
        room.say(recording(tmp_path, "02-michael"))
        bench.wait_for("answer: One top, sixteen. File two.")
        assert bench.more(6) == []
        bench.end()
    finally:
        room.hush_echo()
    assert logged(tmp_path / "log.journal") == ["14.5 thou", "16 thou"]


def test_with_a_headset_a_reading_is_taken_in_mid_answer_and_cuts_it_off(room, start, tmp_path):
    bench = start("--headset")
    with room.recording() as both:
        room.say(recording(tmp_path, "01-michael"))
        bench.wait_for("answer: One top, fourteen and a half. File three and a half.")
        time.sleep(0.4)  # the voice has begun: the line is written when the answer is made
        room.say(recording(tmp_path, "02-michael"))
        bench.wait_for("answer: One top, sixteen. File two.")
        time.sleep(5)
    heard, played = both.sides
    second = spans(heard, RATE_HZ, gap_s=0.4)[-1]
    answers = spans(played, RATE_HZ, gap_s=0.4)
    assert answers[0][0] < second[0]
    assert not [began for began, _ in answers if second[0] + 0.8 < began < second[1]]
    assert max(ended for began, ended in answers if began < second[0] + 0.8) < second[1] - 0.3
    assert bench.end() == 0
    assert logged(tmp_path / "log.journal") == ["14.5 thou", "16 thou"]


def test_killed_bench_has_kept_what_it_acknowledged_and_resumes_there(room, start, tmp_path):
    bench = start()
    room.say(recording(tmp_path, "01-michael"))
    bench.wait_for("answer: One top, fourteen and a half.")
    bench.end(signal.SIGKILL)
    assert logged(tmp_path / "log.journal") == ["14.5 thou"]
    again = start()
    assert again.said[-1] == "answer: Resumed. None of sixteen done. Next, one top. Eye protection on."
    room.say(recording(tmp_path, "02-michael"))
    again.wait_for("answer: One top, sixteen. File two.")
    again.end()
    assert logged(tmp_path / "log.journal") == ["14.5 thou", "16 thou"]


@pytest.mark.parametrize("number", [signal.SIGINT, signal.SIGHUP, signal.SIGTERM])
def test_ctrl_c_and_a_closed_terminal_end_in_good_order(room, start, tmp_path, number):
    bench = start()
    room.say(recording(tmp_path, "01-michael"))
    bench.wait_for("answer: One top, fourteen and a half.")
    assert bench.end(number) == 0
    assert logged(tmp_path / "log.journal") == ["14.5 thou"]


def test_sound_server_that_restarts_is_told_of_and_listening_goes_on(start, tmp_path):
    with Room() as shaky:
        begin(tmp_path / "log.journal")
        bench = Running(shaky, tmp_path / "log.journal")
        bench.wait_for("answer: Resumed.")
        time.sleep(6.5)
        shaky.stop()
        bench.wait_for("trouble: Microphone lost.")
        shaky.start()
        bench.wait_for("over: Microphone lost.")
        time.sleep(5)
        shaky.say(recording(tmp_path, "01-michael"))
        bench.wait_for("answer: One top, fourteen and a half.")
        bench.end()
    assert logged(tmp_path / "log.journal") == ["14.5 thou"]


def test_display_runs_in_a_real_terminal_and_takes_keys(room, tmp_path):
    """Tmux is the terminal: 80 by 24, its screen read back as text."""
    if not shutil.which("tmux"):
        pytest.skip("no tmux here")
    tmux = ["tmux", "-S", str(tmp_path / "tmux"), "-f", "/dev/null"]
    command = (
        f"PYTHONPATH={ROOT} {sys.executable} -m handsfree.cli bench {PLAN} "
        f"--journal {tmp_path / 'log.journal'} --silent --no-microphone; sleep 30"
    )
    subprocess.run([*tmux, "new-session", "-d", "-x", "80", "-y", "24", command], check=True, env=room.env)

    def screen():
        done = subprocess.run([*tmux, "capture-pane", "-p"], capture_output=True, text=True, check=True)
        return done.stdout

    def wait_for(text):
        until = time.monotonic() + 120
        while text not in screen() and time.monotonic() < until:
            time.sleep(0.1)
        assert text in screen()

    try:
        wait_for("Wear eye protection; filed edges are sharp.")  # the cautions, in full
        subprocess.run([*tmux, "send-keys", "q"], check=True)
        wait_for("1 top OPEN .")
        assert "KEYS ALONE" in screen()
        subprocess.run([*tmux, "send-keys", "1", "6", ".", "5"], check=True)
        wait_for("keys: 16.5_")
        subprocess.run([*tmux, "send-keys", "Enter"], check=True)
        wait_for("1 top SHORT <")
        assert "One top, sixteen and a half. File one and a half." in screen()
        subprocess.run([*tmux, "resize-window", "-x", "120", "-y", "40"], check=True)
        wait_for("1 top SHORT <")
        subprocess.run([*tmux, "send-keys", "C-c"], check=True)
        wait_for("The log is in")
    finally:
        subprocess.run([*tmux, "kill-server"], check=False)
    assert logged(tmp_path / "log.journal") == ["16.5 thou"]


def test_a_journal_that_cannot_be_opened_is_said_aloud_and_written(room, tmp_path):
    journal = tmp_path / "log.journal"
    journal.write_bytes(b"SQLite format 3\0" + bytes(5000))
    with room.recording() as both:
        bench = Running(room, journal)
        bench.wait_for("handsfree: ")
        assert bench.process.wait(timeout=60) == 2
        bench.end()
    assert "is another program's database, not a handsfree journal" in bench.said[-1]
    assert sum(end - began for began, end in spans(both.sides[1], RATE_HZ, gap_s=1.0)) > 2
