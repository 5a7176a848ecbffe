"""One command in a process of its own that was forked from this one, with what it took and what it said."""

from __future__ import annotations

import os
import resource
import signal
import sys
import time
import traceback
from dataclasses import dataclass
from pathlib import Path

MOST_S, MOST_MB = 5.0, 500.0
_PATIENCE_S = 60.0  # of the clock, as the machine may be busy; what is judged is the processor's time
_SPARE = 3 << 30


@dataclass(frozen=True)
class Outcome:
    """What became of one command.

    status: its exit status, or minus the signal that ended it. cpu_s, peak_mb: processor time and memory.
    """

    status: int
    out: str
    err: str
    cpu_s: float
    wall_s: float
    peak_mb: float

    @property
    def complaint(self) -> str | None:
        """Say what is wrong with it: None for status 0 or 2, sentences, little time and little memory."""
        if self.status not in (0, 2):
            return f"status {self.status}"
        if "Traceback" in self.err + self.out or "Warning" in self.err or "Exception" in self.err:
            return "a traceback or a warning"
        binary = self.out.startswith(("%PDF", "PK"))  # a sheet on standard output
        shown = self.err + ("" if binary else self.out.replace("\r\n", "\n"))
        if any(not c.isprintable() and c not in "\n\t" for c in shown):
            return "characters that move the cursor"
        if self.status == 2 and not _is_refusal(self.err) and not (self.out and not self.err):
            return "no single sentence"
        if self.cpu_s > MOST_S:
            return f"{self.cpu_s:.1f} s"
        if self.peak_mb > MOST_MB:
            return f"{self.peak_mb:.0f} MB"
        return None


def _is_refusal(err: str) -> bool:
    """Whether there is one sentence of ours; what is said of files, or the usage, may stand before."""
    ours = [line for line in err.splitlines() if line.startswith("handsfree")]
    return len(ours) == 1 and err.splitlines()[-1] == ours[0] and len(ours[0]) < 1100


def run(arguments: list[str], folder: Path) -> Outcome:
    """Run the program's own entry in a fork of this process, in `folder`, without input."""
    out, err = folder.with_suffix(".out"), folder.with_suffix(".err")
    begun = time.monotonic()
    child = os.fork()
    if child == 0:
        os._exit(_in_child(arguments, folder, out, err))
    status, used = _wait(child, begun)
    return Outcome(
        status,
        out.read_bytes()[:200_000].decode("utf-8", "surrogateescape"),
        err.read_bytes()[:200_000].decode("utf-8", "surrogateescape"),
        used.ru_utime + used.ru_stime,
        time.monotonic() - begun,
        used.ru_maxrss / 1024,
    )


def _wait(child: int, begun: float) -> tuple[int, resource.struct_rusage]:
    while True:
        done, status, used = os.wait4(child, os.WNOHANG)
        if done:
            return os.waitstatus_to_exitcode(status), used
        if time.monotonic() - begun > _PATIENCE_S:
            os.killpg(child, signal.SIGKILL)
            _, status, used = os.wait4(child, 0)
            return os.waitstatus_to_exitcode(status), used
        time.sleep(0.002)


def _in_child(arguments: list[str], folder: Path, out: Path, err: Path) -> int:
    from handsfree.cli import main

    os.setpgid(0, 0)
    os.chdir(folder)
    home = folder.with_suffix(".home")
    os.environ |= {"HOME": str(home), "XDG_STATE_HOME": str(home), "XDG_DATA_HOME": str(home)}
    os.environ |= {"XDG_CACHE_HOME": str(home)}
    for number, path, flags in ((0, Path(os.devnull), os.O_RDONLY), (1, out, os.O_RDWR), (2, err, os.O_RDWR)):
        opened = os.open(path, flags | os.O_CREAT | os.O_TRUNC * (number > 0), 0o600)
        os.dup2(opened, number)
        os.close(opened)
    for name, number, mode in (("stdin", 0, "r"), ("stdout", 1, "w"), ("stderr", 2, "w")):
        setattr(sys, name, open(number, mode, encoding="utf-8", closefd=False))  # noqa: SIM115
    mapped = int(Path("/proc/self/statm").read_text().split()[0]) * resource.getpagesize()
    resource.setrlimit(resource.RLIMIT_AS, (mapped + _SPARE, mapped + _SPARE))
    resource.setrlimit(resource.RLIMIT_CPU, (30, 30))
    resource.setrlimit(resource.RLIMIT_FSIZE, (200 << 20, 200 << 20))
    resource.setrlimit(resource.RLIMIT_CORE, (0, 0))
    try:
        status = main(arguments)
    except SystemExit as left:
        status = left.code if isinstance(left.code, int) else 1
    except BaseException:
        traceback.print_exc()
        status = 1
    sys.stdout.flush()
    if not sys.stderr.closed:
        sys.stderr.flush()
    return status
