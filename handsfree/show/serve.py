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

from handsfree.errors import HandsfreeError, install_extra
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


class Web:
    """An address for the display in a browser, held from the moment it is made.

    Made before the journal is opened, so that an address which can't be used leaves no trace in it.

    Raises:
        HandsfreeError: the address is taken or can't be used, or the server isn't installed.
    """

    def __init__(self, where: str) -> None:
        self._host, self._port = address_of(where)
        if importlib.util.find_spec("textual_serve") is None:
            raise HandsfreeError(f"the browser display isn't installed; {install_extra('web')}")
        self._socket = socket.socket(socket.AF_INET6 if ":" in self._host else socket.AF_INET)
        if os.name == "posix":  # elsewhere it would let two programs share the address
            self._socket.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        try:
            self._socket.bind((self._host, self._port))
            self._socket.listen(16)
        except OSError as fault:
            self._socket.close()
            reason = fault.strerror or fault
            raise HandsfreeError(f"can't serve at {where}: {reason}; choose another port") from fault

    def close(self) -> None:
        """Let go of the address."""
        self._socket.close()

    @contextlib.contextmanager
    def display(
        self,
        latest: Callable[[], BenchView | None],
        key: Callable[[str, str], object],
        out: Callable[[str], object],
    ) -> Iterator[None]:
        """Serve the display while the block runs, and say where."""
        views = ViewServer(latest, key)
        root = str(Path(__file__).parents[2])
        path = os.pathsep.join([root, *filter(None, [os.environ.get("PYTHONPATH")])])
        handed = [self._socket.fileno()] if os.name == "posix" else []
        if not handed:
            self.close()  # it can't be handed over, so the server binds it anew
        server = subprocess.Popen(  # noqa: S603 - our own interpreter and module
            [sys.executable, "-m", "handsfree.show.web", self._host, str(self._port), *map(str, handed)],
            env=os.environ | views.environment | {"PYTHONPATH": path},
            stdin=subprocess.PIPE,  # its end tells the server that the bench is gone
            stdout=subprocess.PIPE,
            stderr=subprocess.DEVNULL,
            text=True,
            pass_fds=handed,
        )
        passes = threading.Thread(target=self._passes, args=(server, out), daemon=True)
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
            for pipe in (server.stdin, server.stdout):
                if pipe is not None:
                    pipe.close()
            views.close()

    def _passes(self, server: subprocess.Popen[str], out: Callable[[str], object]) -> None:
        """Say each pass as it is made: it is good for one browser."""
        from handsfree.show.web import is_loopback

        local = is_loopback(self._host)
        host = self._host if local else socket.gethostname()
        shown = f"[{host}]" if ":" in host else host
        size = "fontsize=20&" if local else ""
        assert server.stdout is not None  # noqa: S101 - piped above
        for line in server.stdout:
            out(f"display for the next browser: http://{shown}:{self._port}/?{size}pass={line.strip()}")
