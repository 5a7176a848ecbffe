"""Leaving the bench: by signal, and when its terminal is gone."""

import os
import pty
import signal
import subprocess
import sys
import time
from pathlib import Path

import pytest

from handsfree.commands.benching import BenchOptions, Live
from handsfree.live import Quit
from handsfree.plan import load_plan
from handsfree.record import Journal

ROOT = Path(__file__).parents[2]
PLAN = ROOT / "demo" / "plan.toml"


@pytest.fixture
def live(tmp_path):
    with Journal.open(tmp_path / "log.journal") as journal:
        made = Live(load_plan(PLAN), journal, BenchOptions(silent=True, deaf=True))
        yield made
        made.close()


def test_a_signal_that_comes_while_the_bench_takes_an_event_does_not_stop_it_for_ever(live):
    """Ten thousand are taken while a timer's signal asks to leave every millisecond."""
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
        while time.monotonic() < until:
            live.press("1")
            taken.append(live.events.get())
    finally:
        signal.setitimer(signal.ITIMER_REAL, 0)
        signal.signal(signal.SIGALRM, before)
    assert len(taken) > 10_000
    assert Quit() in taken


def test_display_whose_terminal_is_gone_ends(tmp_path):
    """A pseudoterminal that isn't the program's controlling one: no signal tells it."""
    owner, terminal = pty.openpty()
    command = [sys.executable, "-m", "handsfree.cli", "bench", str(PLAN), "--silent", "--no-microphone"]
    process = subprocess.Popen(
        [*command, "--journal", str(tmp_path / "log.journal")],
        env=os.environ | {"PYTHONPATH": str(ROOT), "TERM": "xterm", "XDG_CACHE_HOME": str(tmp_path)},
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
        process.wait(timeout=20)
    finally:
        process.kill()
        process.wait()
    assert process.returncode != -signal.SIGKILL
