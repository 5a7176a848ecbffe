"""Settings for every test."""

import atexit
import os
import shutil
import signal
import tempfile
from collections.abc import Iterator
from itertools import count
from pathlib import Path

import pytest
from hypothesis import HealthCheck, settings

_FOLDERS = Path(tempfile.mkdtemp(prefix="handsfree-tests-"))
atexit.register(shutil.rmtree, _FOLDERS, ignore_errors=True)
_KINDS = ("data", "config", "state", "cache")
_numbers = count(1)


def _keep_in(folder: Path) -> None:
    """Let this process, and what it starts, find and keep what is a user's in a folder of its own."""
    for kind in _KINDS:
        os.environ[f"XDG_{kind.upper()}_HOME"] = str(folder / kind)
    runtime = folder / "runtime"
    runtime.mkdir(parents=True, mode=0o700)
    os.environ["XDG_RUNTIME_DIR"] = str(runtime)


# What the user of this machine keeps (models, rehearsals, what was learned of their voice, the day they
# last heard the cautions) changes no test. These folders are for what is made once for a module or a session.
_keep_in(_FOLDERS / "shared")


@pytest.fixture(autouse=True)
def own_folders() -> Iterator[None]:
    """Give each test a user of its own, who has kept nothing yet: no test finds what another one left."""
    before, folder = dict(os.environ), _FOLDERS / str(next(_numbers))
    _keep_in(folder)
    yield
    for name in [name for name in os.environ if name.startswith("XDG_")]:
        if name in before:
            os.environ[name] = before[name]
        else:
            del os.environ[name]
    shutil.rmtree(folder, ignore_errors=True)


# No test, and nothing that one starts, lets onnxruntime report to its maker: set before its first import.
os.environ["ORT_DISABLE_TELEMETRY"] = "1"

# Tests run beside each other, so none takes all processors to itself: set before numpy's first import.
for _threads in ("OMP_NUM_THREADS", "OPENBLAS_NUM_THREADS"):
    os.environ.setdefault(_threads, "1")

# A program that a test starts finds the package compiled, which halves what its start costs.
os.environ.pop("PYTHONDONTWRITEBYTECODE", None)

# What a script starts in the background ignores Ctrl-C, and so does every program that it starts.
signal.signal(signal.SIGINT, signal.default_int_handler)

# No test fails for being slow: machines differ, and first calls load what later ones find loaded.
settings.register_profile("untimed", deadline=None, suppress_health_check=[HealthCheck.too_slow])
settings.load_profile("untimed")
