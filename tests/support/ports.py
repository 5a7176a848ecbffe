"""Ports for the servers of tests."""

from __future__ import annotations

import os
import socket
from itertools import count

_FIRST, _EACH = 20_000, 1_000
_calls = count(os.getpid())  # so that two runs beside each other seldom ask for the same


def free_port() -> int:
    """Return a port on which nobody listens, another one at each call.

    It lies below the ports that a system gives to outgoing connections, and in a range of this worker's own:
    nothing takes it before the server under test does, nor while that is stopped for a moment.
    """
    worker = int(os.environ.get("PYTEST_XDIST_WORKER", "gw0").removeprefix("gw")) % 10
    for call in _calls:
        port = _FIRST + worker * _EACH + call % _EACH
        with socket.socket() as probe:
            try:
                probe.bind(("127.0.0.1", port))
            except OSError:
                continue
            return port
    raise AssertionError
