"""Child processes: messages both ways, and every way to lose one."""

import os
import subprocess
import sys
import textwrap
import time
from pathlib import Path

import pytest

from handsfree.child import Child, ChildLostError, ChildSilentError, script_command


@pytest.fixture
def start(tmp_path):
    """Start a child from its body; it has `parent`, and answers as it likes."""
    children = []

    def make(body):
        script = tmp_path / f"child{len(children)}.py"
        head = "import os, sys, time\nfrom handsfree.child import Parent\nparent = Parent()\n"
        script.write_text(head + textwrap.dedent(body), encoding="utf-8")
        children.append(Child(script_command(script, "argument")))
        return children[-1]

    yield make
    for child in children:
        child.kill()


def test_messages_and_bytes_go_both_ways(start):
    child = start(
        """
        while message := parent.receive():
            header, payload = message
            parent.send({"echo": header["n"], "argument": sys.argv[1]}, payload[::-1])
        """
    )
    for n, payload in enumerate([b"abc", b"", b"\n{}\n" * 50_000]):
        child.send({"n": n}, payload)
        header, back = child.receive(10)
        assert (header["echo"], header["argument"]) == (n, "argument")
        assert back == payload[::-1]


def test_what_libraries_print_doesnt_reach_the_messages(start):
    child = start("print('Audio saved'); os.system('echo noise'); parent.send({'clean': True})")
    assert child.receive(10)[0] == {"clean": True}


def test_silence_is_told_from_death(start):
    child = start("time.sleep(60)")
    with pytest.raises(ChildSilentError):
        child.receive(0.1)
    child.process.kill()
    with pytest.raises(ChildLostError, match="ended"):
        child.receive(10)
    with pytest.raises(ChildLostError, match="ended"):  # and again, however often it is asked
        child.receive(10)


@pytest.mark.parametrize(
    "nonsense", [b"no message\n", b"3\n", b'{"bytes": 10}\nabc', b'{"bytes": "many"}\n', b"\xff\n"]
)
def test_nonsense_ends_the_conversation(start, nonsense):
    child = start(f"os.write(parent._out.fileno(), {nonsense!r}); os._exit(0)")
    with pytest.raises(ChildLostError):
        child.receive(10)


def test_sending_to_a_child_that_has_gone_says_so(start):
    child = start("os._exit(3)")
    child.process.wait(10)
    with pytest.raises(ChildLostError):
        child.send({"n": 1}, b"x" * 10_000_000)


def test_killed_child_leaves_no_process(start):
    child = start("time.sleep(60)")
    child.kill()
    assert not Path(f"/proc/{child.process.pid}").exists()
    child.kill()  # and a second time does no harm


PARENT = """
import sys
from handsfree.child import Child, script_command
from pathlib import Path
child = Child(script_command(Path(sys.argv[1])))
child.receive(10)
print(child.process.pid, flush=True)
import os
os.kill(os.getpid(), 9)
"""


@pytest.mark.skipif(sys.platform != "linux", reason="reads /proc")
def test_child_ends_when_its_parent_was_killed_even_while_it_hangs(tmp_path):
    script = tmp_path / "hang.py"
    script.write_text("import time\nfrom handsfree.child import Parent\nParent().send({})\ntime.sleep(60)\n")
    done = subprocess.run(
        [sys.executable, "-c", PARENT, str(script)],
        capture_output=True,
        text=True,
        check=False,
        env=os.environ | {"PYTHONPATH": str(Path(__file__).parents[1])},
    )
    orphan = Path(f"/proc/{int(done.stdout)}")
    until = time.monotonic() + 10
    while orphan.exists() and "State:\tZ" not in (orphan / "status").read_text() and time.monotonic() < until:
        time.sleep(0.02)
    assert not orphan.exists() or "State:\tZ" in (orphan / "status").read_text()


MUTE = """
import os, signal, sys, threading, time
from handsfree.child import die_with_parent
die_with_parent()
print(os.getpid(), flush=True)
signal.pthread_sigmask(signal.SIG_BLOCK, set(signal.Signals))
time.sleep(60)
"""
PARENT_OF_MUTE = """
import os, subprocess, sys
command = [sys.executable, "-c", sys.argv[1]]
none = subprocess.DEVNULL
child = subprocess.Popen(command, stdout=subprocess.PIPE, stdin=none, stderr=none)
print(int(child.stdout.readline()), flush=True)
os.kill(os.getpid(), 9)
"""
WATCHER = """
import os, sys, time
from handsfree.child import watch_pipe
watch_pipe(sys.stdin.buffer)
print(os.getpid(), flush=True)
time.sleep(60)
"""


def dead(process_id, seconds=20):
    status = Path(f"/proc/{process_id}/status")
    until = time.monotonic() + seconds
    while time.monotonic() < until:
        try:
            if "State:\tZ" in status.read_text():
                return True
        except (FileNotFoundError, ProcessLookupError):
            return True
        time.sleep(0.02)
    return False


@pytest.mark.skipif(sys.platform != "linux", reason="the kernel's own signal")
def test_child_that_reads_no_pipe_is_killed_with_its_parent():
    done = subprocess.run(
        [sys.executable, "-c", PARENT_OF_MUTE, MUTE],
        capture_output=True,
        text=True,
        check=False,
        env=os.environ | {"PYTHONPATH": str(Path(__file__).parents[1])},
    )
    assert dead(int(done.stdout))


def test_child_that_watches_a_pipe_ends_with_it():
    child = subprocess.Popen(
        [sys.executable, "-c", WATCHER],
        stdin=subprocess.PIPE,
        stdout=subprocess.PIPE,
        env=os.environ | {"PYTHONPATH": str(Path(__file__).parents[1])},
    )
    child.stdout.readline()
    assert child.poll() is None
    child.stdin.close()
    assert child.wait(timeout=60) == 0
    child.stdout.close()
