"""Settings for every test."""

import atexit
import os
import shutil
import signal
import tempfile

from hypothesis import settings

# What the user of this machine keeps (models, rehearsals, what was learned of their voice) changes no test.
os.environ["XDG_DATA_HOME"] = tempfile.mkdtemp(prefix="handsfree-tests-data-")
atexit.register(shutil.rmtree, os.environ["XDG_DATA_HOME"], ignore_errors=True)

# No test, and nothing that one starts, lets onnxruntime report to its maker: set before its first import.
os.environ["ORT_DISABLE_TELEMETRY"] = "1"

# What a script starts in the background ignores Ctrl-C, and so does every program that it starts.
signal.signal(signal.SIGINT, signal.default_int_handler)

# No test fails for being slow: machines differ, and first calls load what later ones find loaded.
settings.register_profile("untimed", deadline=None)
settings.load_profile("untimed")
