"""`handsfree bench --web`: the display in a browser, beside lines of text in the terminal."""

from __future__ import annotations

import contextlib
import importlib.util
import os
import re
import socket
import subprocess
import sys
import threading
from collections.abc import Callable, Iterator
from pathlib import Path

from handsfree.errors import HandsfreeError
from handsfree.show.remote import ViewServer
from handsfree.show.view import BenchView


def address_of(text: str) -> tuple[str, int]:
    """Read HOST:PORT.

    Raises:
        HandsfreeError: it isn't one.

    >>> address_of("127.0.0.1:8123"), address_of("[::1]:80")
    (('127.0.0.1', 8123), ('::1', 80))
    """
    host, colon, port = text.rpartition(":")
    if not colon or not host or not re.fullmatch("[0-9]{1,5}", port) or not 0 < int(port) < 65536:
        raise HandsfreeError(f'"{text}" is no address for --web; write HOST:PORT, such as 127.0.0.1:8123')
    return host.strip("[]"), int(port)


@contextlib.contextmanager
def web_display(
    where: str,
    latest: Callable[[], BenchView | None],
    key: Callable[[str], object],
    out: Callable[[str], object],
) -> Iterator[None]:
    """Serve the display while the block runs, and say where.

    Raises:
        HandsfreeError: the address is taken or can't be used, or the server isn't installed.
    """
    host, port = address_of(where)
    if importlib.util.find_spec("textual_serve") is None:
        raise HandsfreeError('the browser display isn\'t installed; install it: pip install "handsfree[web]"')
    with contextlib.closing(socket.socket(socket.AF_INET6 if ":" in host else socket.AF_INET)) as probe:
        probe.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        try:
            probe.bind((host, port))
        except OSError as fault:
            reason = fault.strerror or fault
            raise HandsfreeError(f"can't serve at {where}: {reason}; choose another port") from fault
    from handsfree.show.web import is_loopback

    views = ViewServer(latest, key)
    root = str(Path(__file__).parents[2])
    path = os.pathsep.join([root, *filter(None, [os.environ.get("PYTHONPATH")])])
    server = subprocess.Popen(  # noqa: S603 - our own interpreter and module
        [sys.executable, "-m", "handsfree.show.web", host, str(port)],
        env=os.environ | views.environment | {"PYTHONPATH": path},
        stdin=subprocess.DEVNULL,
        stdout=subprocess.PIPE,
        stderr=subprocess.DEVNULL,
        text=True,
    )
    if is_loopback(host):
        shown = f"[{host}]" if ":" in host else host
        out(f"display: http://{shown}:{port}/?fontsize=20")
    passes = threading.Thread(target=_passes, args=(server, port, out), daemon=True)
    passes.start()
    try:
        yield
    finally:
        server.terminate()
        try:
            server.wait(timeout=5)
        except subprocess.TimeoutExpired:
            server.kill()
            server.wait()
        passes.join(timeout=5)
        if server.stdout is not None:
            server.stdout.close()
        views.close()


def _passes(server: subprocess.Popen[str], port: int, out: Callable[[str], object]) -> None:
    """Say each pass as it is made: it is good for one browser."""
    assert server.stdout is not None  # noqa: S101 - piped above
    for line in server.stdout:
        out(f"pass for the next browser: http://{socket.gethostname()}:{port}/?pass={line.strip()}")
