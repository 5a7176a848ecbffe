"""The bench as a process: its first moments, its keys, its browser display, and every way to leave it."""

import contextlib
import os
import pty
import select
import signal
import socket
import subprocess
import sys
import time
from pathlib import Path

import pytest

from handsfree.journal import Journal
from handsfree.live import Quit
from handsfree.planfile import load_plan
from handsfree.session import fold
from handsfree.wiring import BenchOptions, Live
from tests.support.ports import free_port

ROOT = Path(__file__).parents[2]
PLAN = ROOT / "demo" / "plan.toml"


@pytest.fixture
def live(tmp_path):
    with Journal.open(tmp_path / "log.journal") as journal:
        made = Live(load_plan(PLAN), journal, BenchOptions(silent=True, deaf=True))
        yield made
        made.close()


def test_a_signal_that_comes_while_the_bench_takes_an_event_does_not_stop_it_for_ever(live):
    """Ten thousand are taken or more while a timer's signal asks to leave each millisecond."""
    inside = []

    def leave(*_):
        assert len(inside) < 20, "the handler waits for what it interrupted"
        inside.append(1)
        live.leave()
        inside.pop()

    before = signal.signal(signal.SIGALRM, leave)
    signal.setitimer(signal.ITIMER_REAL, 0.001, 0.001)
    taken = []
    try:
        until = time.monotonic() + 2
        while time.monotonic() < until or len(taken) < 10_000:
            live.press("1")
            taken.append(live.events.get())
    finally:
        signal.setitimer(signal.ITIMER_REAL, 0)
        signal.signal(signal.SIGALRM, before)
    assert Quit() in taken


def test_display_whose_terminal_is_gone_ends(tmp_path):
    """A pseudoterminal that isn't the program's controlling one: no signal tells it."""
    owner, terminal = pty.openpty()
    command = [sys.executable, "-m", "handsfree.cli", "bench", str(PLAN), "--silent", "--no-microphone"]
    process = subprocess.Popen(
        [*command, "--journal", str(tmp_path / "log.journal")],
        env=os.environ | {"PYTHONPATH": str(ROOT), "TERM": "xterm"},
        stdin=terminal,
        stdout=terminal,
        stderr=terminal,
        start_new_session=True,
    )
    os.close(terminal)
    try:
        shown = b""
        while b"protection" not in shown:  # the cautions
            shown += os.read(owner, 65536)
        os.close(owner)
        process.wait(timeout=60)
    finally:
        process.kill()
        process.wait()
    assert process.returncode != -signal.SIGKILL


# ---- keys from the first moment, and from a pipe


class Terminal:
    """A bench in a pseudoterminal, with what it printed."""

    def __init__(self, folder, *options, controlling=True):
        self.journal = folder / "log.journal"
        self.owner, terminal = pty.openpty()
        begin = "import fcntl, os, sys, termios; fcntl.ioctl(0, termios.TIOCSCTTY, 0); "
        command = [*COMMAND, "--journal", str(self.journal), "--silent", "--no-microphone", *options]
        if controlling:
            command = [sys.executable, "-c", begin + "os.execv(sys.argv[1], sys.argv[1:])", *command]
        self.process = subprocess.Popen(
            command,
            env=os.environ | {"PYTHONPATH": str(ROOT)},
            stdin=terminal,
            stdout=terminal,
            stderr=terminal,
            start_new_session=True,
        )
        os.close(terminal)
        self.printed = ""

    def wait_for(self, text, seconds=90):
        """Read until something was printed."""
        until = time.monotonic() + seconds
        while text not in self.printed:
            ready, _, _ = select.select([self.owner], [], [], max(0.0, until - time.monotonic()))
            assert ready, self.printed
            self.printed += os.read(self.owner, 65536).decode(errors="replace")
        return self.printed

    def close(self):
        if self.process.poll() is None:
            self.process.kill()
        self.process.wait()


COMMAND = [sys.executable, "-m", "handsfree.cli", "bench", str(PLAN)]


@pytest.fixture
def terminal(tmp_path):
    made = []

    def make(*options, **more):
        made.append(Terminal(tmp_path, *options, **more))
        return made[-1]

    yield make
    for each in made:
        each.close()


def logged(path):
    with Journal.open(path) as journal:
        return [str(entry.value) for entry in fold(load_plan(PLAN), journal.events()).log()]


@pytest.mark.parametrize("options", [("--plain",), ("--web", "WEB")])
def test_nothing_that_is_typed_from_the_start_is_lost(terminal, options):
    if "--web" in options:
        pytest.importorskip("aiohttp")
        options = ("--web", f"127.0.0.1:{free_port()}")
    bench = terminal(*options)
    os.write(bench.owner, b"1*1*11\r")  # before it has printed anything
    bench.wait_for("Ready.")
    for number in range(12, 19):
        os.write(bench.owner, b"1*1*%d\r" % number)
        time.sleep(0.3)
    os.write(bench.owner, b"0*\r+\r")
    bench.wait_for("The log is in")
    assert bench.process.wait(timeout=60) == 0
    assert logged(bench.journal) == [f"{number} thou" for number in range(11, 19)]


def test_display_takes_what_is_typed_while_it_starts(terminal):
    bench = terminal()
    os.write(bench.owner, b"1*1*11\r")
    bench.wait_for("SHORT")
    os.write(bench.owner, b"\x03")
    assert bench.process.wait(timeout=60) == 0
    assert logged(bench.journal) == ["11 thou"]


def piped(folder, keys, *options):
    command = [*COMMAND, "--plain", "--silent", *options, "--journal", str(folder / "log.journal")]
    return subprocess.run(
        command,
        input=keys,
        env=os.environ | {"PYTHONPATH": str(ROOT)},
        capture_output=True,
        text=True,
        timeout=240,
        check=False,
    )


def test_piped_entries_are_answered_and_the_bench_ends_with_them(tmp_path):
    done = piped(tmp_path, "1*1*14.5\n16 Enter  # a remark, 99\n17x\n18", "--no-microphone")
    assert done.returncode == 0, done.stderr
    assert "keyed: 1*1*14.5 Enter\nanswer: One top, fourteen and a half." in done.stdout
    assert 'answer: keys "17x" mean nothing here' in done.stdout
    assert logged(tmp_path / "log.journal") == ["14.5 thou", "16 thou"]  # the last one has no Enter


@pytest.mark.parametrize("typed", ["", "# nothing keyed yet\n"])
def test_bench_that_only_hears_keys_ends_with_an_input_that_brings_none(tmp_path, typed):
    done = piped(tmp_path, typed, "--no-microphone")
    assert done.returncode == 0, done.stderr
    assert "The log is in" in done.stdout
    assert logged(tmp_path / "log.journal") == []


# ---- the browser display and the bench


def test_address_that_cannot_be_used_leaves_no_trace_in_the_journal(tmp_path):
    pytest.importorskip("aiohttp")
    with contextlib.closing(socket.socket()) as taken:
        taken.bind(("127.0.0.1", 0))
        taken.listen()
        for where in (f"127.0.0.1:{taken.getsockname()[1]}", "nonsense", "127.0.0.1:0"):
            done = piped(tmp_path, "", "--no-microphone", "--web", where)
            assert done.returncode == 2
            assert done.stderr.startswith("handsfree: ")
            assert not (tmp_path / "log.journal").exists()


def test_address_of_a_killed_bench_is_free_again(terminal):
    pytest.importorskip("aiohttp")
    where = ("--web", f"127.0.0.1:{free_port()}")
    bench = terminal(*where)
    bench.wait_for("enter#")
    bench.process.kill()
    bench.process.wait()
    terminal(*where).wait_for("enter#")


# ---- the terminal goes


@pytest.mark.parametrize("controlling", [True, False])
@pytest.mark.parametrize("when", ["Ready.", "keyed: 1*1*18"], ids=["greeted", "keyed"])
def test_plain_ends_with_its_terminal(terminal, controlling, when):
    bench = terminal("--plain", controlling=controlling)
    bench.wait_for("Ready.")
    os.write(bench.owner, b"1*1*18\r")
    bench.wait_for(when)
    os.close(bench.owner)
    bench.process.wait(timeout=60)
    assert len(logged(bench.journal)) <= 1


def test_nohup_keeps_the_bench_when_its_terminal_hangs_up(tmp_path):
    """An ignored SIGHUP is inherited: it stays ignored."""
    process = subprocess.Popen(
        ["nohup", *COMMAND, "--plain", "--silent", "--no-microphone", "--journal", tmp_path / "log.journal"],
        env=os.environ | {"PYTHONPATH": str(ROOT)},
        stdin=subprocess.PIPE,
        stdout=subprocess.PIPE,
        stderr=subprocess.DEVNULL,
        text=True,
    )
    try:
        assert "Ready." in process.stdout.readline()
        process.send_signal(signal.SIGHUP)
        told, _ = process.communicate("1*1*18\n", timeout=60)
        assert "keyed: 1*1*18 Enter" in told
        assert process.returncode == 0
    finally:
        process.kill()
        process.wait()
    assert logged(tmp_path / "log.journal") == ["18 thou"]


def test_plain_ends_when_input_and_output_are_gone(tmp_path):
    """Neither is a terminal: somebody read its lines, and has left."""
    process = subprocess.Popen(
        [*COMMAND, "--plain", "--silent", "--no-microphone", "--journal", str(tmp_path / "log.journal")],
        env=os.environ | {"PYTHONPATH": str(ROOT)},
        stdin=subprocess.PIPE,
        stdout=subprocess.PIPE,
        stderr=subprocess.DEVNULL,
    )
    try:
        assert b"Ready." in process.stdout.readline()
        process.stdin.close()
        process.stdout.close()
        assert process.wait(timeout=60) == 0
    finally:
        process.kill()
        process.wait()


def without_input(folder, *options):
    """A bench in plain lines that was started with its standard input closed."""
    script, journal = 'exec 0<&-; exec "$0" "$@"', str(folder / "log.journal")
    return subprocess.Popen(
        ["bash", "-c", script, *COMMAND, "--plain", "--silent", "--journal", journal, *options],
        env=os.environ | {"PYTHONPATH": str(ROOT), "PULSE_SERVER": f"unix:{folder / 'none'}"},
        stdout=subprocess.PIPE,
        stderr=subprocess.STDOUT,
        text=True,
    )


def test_plain_works_with_standard_input_closed(tmp_path):
    """Until it is asked to end: it listens, or looks for a microphone."""
    process = without_input(tmp_path, "--device", "no such microphone")
    try:
        printed = iter(process.stdout.readline, "")
        assert "Ready." in next(printed)
        assert any("microphone" in line for line in printed)  # it works: the end of the input came before
        with pytest.raises(subprocess.TimeoutExpired):
            process.wait(timeout=1)
        process.terminate()
        rest = process.stdout.read()
        assert process.wait(timeout=60) == 0
        assert "Traceback" not in rest
    finally:
        process.kill()
        process.wait()
        process.stdout.close()


def test_bench_that_only_hears_keys_ends_with_standard_input_closed(tmp_path):
    """As with an input that brings none: nothing could ever reach it."""
    process = without_input(tmp_path, "--no-microphone")
    try:
        printed, _ = process.communicate(timeout=120)
    finally:
        process.kill()
        process.wait()
    assert process.returncode == 0
    assert "Traceback" not in printed
    assert "The log is in" in printed
