"""The display in a browser: textual-serve behind a door.

Bound to this machine, only pages of this machine get in. Bound to anything else, a browser gets in
with a one-time pass: it is good once, buys a cookie, and a new pass is made for the next one.
"""

from __future__ import annotations

import contextlib
import contextvars
import ipaddress
import os
import re
import secrets
import shlex
import sys
import tempfile
from collections.abc import Awaitable, Callable
from pathlib import Path
from typing import Any
from urllib.parse import urlsplit

from aiohttp import web
from textual_serve.server import Server

COOKIE = "handsfree"
_HOST: contextvars.ContextVar[str] = contextvars.ContextVar("host", default="")

Handler = Callable[[web.Request], Awaitable[web.StreamResponse]]


class Door:
    """Decides who gets in.

    Args:
        host: what the server is bound to.
        announce: takes each new pass, to be shown where the bench is.
    """

    def __init__(self, host: str, announce: Callable[[str], object]) -> None:
        self.local = is_loopback(host)
        self._announce = announce
        self._pass = ""
        self._cookies: set[str] = set()
        if not self.local:
            self._renew()

    def admits(self, host: str, origin: str | None, cookie: str | None) -> bool:
        """Tell whether a request may pass.

        Args:
            host: its Host header. A page elsewhere can't make a browser send this machine's.
            origin: its Origin header, if it has one: it must be the page's own.
            cookie: our cookie's value, if it came.
        """
        if origin is not None and urlsplit(origin).netloc != host:
            return False
        if self.local:
            return is_loopback(urlsplit(f"//{host}").hostname or "")
        return cookie is not None and any(secrets.compare_digest(cookie, each) for each in self._cookies)

    def spend(self, offered: str) -> str | None:
        """Take a pass; the right one is good once and gives a cookie."""
        if self.local or not secrets.compare_digest(offered.encode(), self._pass.encode()):
            return None
        cookie = secrets.token_urlsafe(24)
        self._cookies.add(cookie)
        self._renew()
        return cookie

    def _renew(self) -> None:
        self._pass = secrets.token_urlsafe(9)
        self._announce(self._pass)


def is_loopback(host: str) -> bool:
    """Whether a host name or address is this machine alone.

    >>> is_loopback("localhost"), is_loopback("127.0.0.1"), is_loopback("::1"), is_loopback("0.0.0.0")
    (True, True, True, False)
    """
    if host == "localhost":
        return True
    with contextlib.suppress(ValueError):
        return ipaddress.ip_address(host.strip("[]")).is_loopback
    return False


class BenchServer(Server):
    """textual-serve with a door, without its greeting, and without fonts from elsewhere."""

    def __init__(self, command: str, host: str, port: int, door: Door, templates: Path) -> None:
        super().__init__(command, host=host, port=port, title="handsfree", templates_path=templates)
        self._door = door
        self._own_url = self.__dict__.pop("public_url", f"http://{host}:{port}")

    @property
    def public_url(self) -> str:
        """The address by which the browser came: that of a tablet isn't known beforehand."""
        return f"http://{_HOST.get()}" if _HOST.get() else self._own_url

    @public_url.setter
    def public_url(self, value: str) -> None:
        self._own_url = value

    def initialize_logging(self) -> None:
        """Say nothing: the terminal belongs to the bench."""

    async def on_startup(self, app: web.Application) -> None:
        """Say nothing."""

    async def _make_app(self) -> web.Application:
        app = await super()._make_app()
        app.middlewares.append(self._guard())
        return app

    def _guard(self) -> Any:
        @web.middleware
        async def guard(request: web.Request, handler: Handler) -> web.StreamResponse:
            offered = request.query.get("pass")
            if offered is not None:
                cookie = self._door.spend(offered)
                if cookie is None:
                    raise web.HTTPForbidden(text="That pass was used or is wrong; take the one shown now.\n")
                entered = web.HTTPFound("/")
                entered.set_cookie(COOKIE, cookie, httponly=True, samesite="Strict")
                raise entered
            if not self._door.admits(
                request.host, request.headers.get("Origin"), request.cookies.get(COOKIE)
            ):
                raise web.HTTPForbidden(text="Open this page with the pass that the bench shows.\n")
            _HOST.set(request.host)
            return await handler(request)

        return guard


def plain_templates(folder: Path) -> Path:
    """Copy the server's page without its link to fonts elsewhere: a bench may have no network."""
    import textual_serve

    source = Path(textual_serve.__file__).parent / "templates" / "app_index.html"
    text = source.read_text(encoding="utf-8")
    text = re.sub(r'<link[^>]*href="https?://[^>]*>', "", text)
    (folder / "app_index.html").write_text(text, encoding="utf-8")
    return folder


def main() -> None:
    """Serve until ended: HOST and PORT are arguments; passes go to standard output, one a line."""
    host, port = sys.argv[1], int(sys.argv[2])
    door = Door(host, lambda word: print(word, flush=True))  # noqa: T201 - read by the bench
    command = f"{shlex.quote(sys.executable)} -m handsfree.show.viewer"
    with tempfile.TemporaryDirectory(prefix="handsfree-web-") as name:
        server = BenchServer(command, host, port, door, plain_templates(Path(name)))
        os.environ.setdefault("PYTHONPATH", str(Path(__file__).parents[2]))
        server.serve()


if __name__ == "__main__":
    main()
