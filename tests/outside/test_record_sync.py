"""That the disk was told to keep an event before it is acknowledged: seen by the kernel's eyes.

SIGKILL can't show this, because the kernel keeps what a dead program wrote; only a power cut could.
Source: the system calls as strace (Debian: strace) prints them.
"""

import re
import shutil
import subprocess
import sys

import pytest

PROGRAM = """
import os, sys
from handsfree.length import length
from handsfree.journal import Draft, Journal, Kind
with Journal.open(sys.argv[1]) as journal:
    journal.append(Draft(Kind.OPENED))
    os.write(2, b"BEGIN")
    for number in range(20):
        journal.append(Draft(Kind.READING, value=length(number)))
        os.write(2, b"LOGGED")
"""


@pytest.mark.skipif(shutil.which("strace") is None, reason="strace isn't installed (Debian: strace)")
def test_each_append_ends_with_a_sync_of_the_log_after_its_last_write(tmp_path):
    trace = tmp_path / "trace"
    watched = ["strace", "-f", "-y", "-e", "trace=write,pwrite64,fsync,fdatasync", "-o", trace]
    done = subprocess.run(
        [*watched, sys.executable, "-c", PROGRAM, tmp_path / "j"],
        capture_output=True,
        text=True,
        check=False,
    )
    if "ptrace" in done.stderr:
        pytest.skip("this machine lets nobody trace a program")
    assert done.returncode == 0, done.stderr
    calls = trace.read_text().split('"BEGIN"', 1)[1].splitlines()
    appended, logged = [], 0
    for call in calls:
        if '"LOGGED"' in call:
            assert appended[-1] == "sync", appended
            assert "write" in appended
            appended, logged = [], logged + 1
        elif re.search(r"write(64)?\(\d+<[^>]*/j-wal>", call):
            appended.append("write")
        elif re.search(r"f(data)?sync\(\d+<[^>]*/j-wal>\)\s+= 0", call):
            appended.append("sync")
    assert logged == 20
