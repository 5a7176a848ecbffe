"""Hands-free bench logger: say or key a measurement, hear what is left, keep the log."""

import os

__version__ = "0.1.0"

# onnxruntime reports to its maker unless this is set before it is imported for the first time. Nothing may
# leave the machine, so it is set whatever the user's environment says; child processes inherit it.
os.environ["ORT_DISABLE_TELEMETRY"] = "1"
