"""The display in a browser: textual-serve with access control.

A browser gets access with a one-time pass: it exchanges the pass for a cookie, and a new pass is made for
the next browser. This holds on the same machine too, since other users and programs reach its loopback
address as well. A server bound to loopback also requires a Host header that names this machine.
"""

from __future__ import annotations

import contextlib
import contextvars
import ipaddress
import os
import re
import secrets
import shlex
import socket
import sys
from collections.abc import Awaitable, Callable
from http.cookies import CookieError
from pathlib import Path
from typing import Any, NoReturn
from urllib.parse import urlsplit

import aiohttp_jinja2
import jinja2
from aiohttp import web
from textual_serve.server import Server

from handsfree.child import die_with_parent, watch_pipe

COOKIE = "handsfree"
MOST_VIEWERS = 4
REQUEST_TIMEOUT_S = 15.0
"""Time limit of a connection for a request, and for staying open without one."""

_HOSTS = re.compile(r"[A-Za-z0-9.:\[\]_-]{1,255}")  # it is written into the page
_HOST: contextvars.ContextVar[str] = contextvars.ContextVar("host", default="")

Handler = Callable[[web.Request], Awaitable[web.StreamResponse]]


class Door:
    """Access control for requests.

    Args:
        host: the server's host name or address.
        announce: receives each new pass, to show it at the bench.
    """

    def __init__(self, host: str, announce: Callable[[str], object]) -> None:
        self.local = is_loopback(host)
        self._announce = announce
        self._pass = ""
        self._cookies: set[bytes] = set()
        self._renew()

    def admits(self, host: str, origin: str | None, cookie: str | None) -> bool:
        """Return whether a request is admitted.

        Args:
            host: its Host header. A foreign page can't make a browser send this machine's.
            origin: its Origin header, if any: it must be the page's own.
            cookie: the value of our cookie, if any.
        """
        try:
            name = urlsplit(f"//{host}").hostname or ""
            if origin is not None and urlsplit(origin).netloc != host:
                return False
        except ValueError:  # unmatched brackets, and the like
            return False
        if not _HOSTS.fullmatch(host) or (self.local and not is_loopback(name)):
            return False
        offered = (cookie or "").encode(errors="surrogatepass")
        return any(secrets.compare_digest(offered, each) for each in self._cookies)

    def spend(self, offered: str) -> str | None:
        """Exchange the current pass for a cookie, once; return None for a wrong pass."""
        if not secrets.compare_digest(offered.encode(errors="surrogatepass"), self._pass.encode()):
            return None
        cookie = secrets.token_urlsafe(24)
        self._cookies.add(cookie.encode())
        self._renew()
        return cookie

    def _renew(self) -> None:
        self._pass = secrets.token_urlsafe(9)
        self._announce(self._pass)


def is_loopback(host: str) -> bool:
    """Return whether a host name or address is reachable from this machine only.

    >>> is_loopback("localhost"), is_loopback("127.0.0.1"), is_loopback("::1"), is_loopback("0.0.0.0")
    (True, True, True, False)
    """
    if host == "localhost":
        return True
    with contextlib.suppress(ValueError):
        return ipaddress.ip_address(host.strip("[]")).is_loopback
    return False


class BenchServer(Server):
    """textual-serve with access control, without its greeting, and without remote fonts."""

    def __init__(self, command: str, host: str, port: int, door: Door) -> None:
        super().__init__(command, host=host, port=port, title="handsfree")
        self._door = door
        self._viewers = 0
        self._own_url = self.__dict__.pop("public_url", f"http://{host}:{port}")

    @property
    def public_url(self) -> str:
        """The address that the browser used: a tablet's isn't known beforehand."""
        return f"http://{_HOST.get()}" if _HOST.get() else self._own_url

    @public_url.setter
    def public_url(self, value: str) -> None:
        self._own_url = value

    def serve_at(self, bound: socket.socket | None) -> None:
        """Serve until a signal ends it, at a listening socket, or else at a new one."""
        web.run_app(
            self._make_app(),
            host=None if bound else self.host,
            port=None if bound else self.port,
            sock=bound,
            keepalive_timeout=REQUEST_TIMEOUT_S,
            shutdown_timeout=1,
            print=None,
            access_log=None,
        )

    async def on_startup(self, app: web.Application) -> None:
        """Print nothing: the terminal belongs to the bench."""

    async def handle_websocket(self, request: web.Request) -> web.WebSocketResponse:
        """Show the bench in another browser, in its own process."""
        if self._viewers >= MOST_VIEWERS:
            raise web.HTTPServiceUnavailable(text=f"{MOST_VIEWERS} browsers show the bench; close one.\n")
        self._viewers += 1
        try:
            return await super().handle_websocket(request)
        finally:
            self._viewers -= 1

    async def _make_app(self) -> web.Application:
        app = await super()._make_app()
        aiohttp_jinja2.setup(app, loader=jinja2.DictLoader({"app_index.html": plain_page()}))
        app.middlewares.append(self._guard())
        app.on_response_prepare.append(_protect)
        return app

    def _guard(self) -> Any:
        @web.middleware
        async def guard(request: web.Request, handler: Handler) -> web.StreamResponse:
            offered = request.query.get("pass")
            if offered is not None:
                self._enter(request, offered)
            try:
                cookie = request.cookies.get(COOKIE)
            except CookieError as fault:
                raise web.HTTPBadRequest(text="That cookie can't be read.\n") from fault
            if not self._door.admits(request.host, request.headers.get("Origin"), cookie):
                raise web.HTTPForbidden(text="Open this page with the pass that the bench shows.\n")
            _HOST.set(request.host)
            return await handler(request)

        return guard

    def _enter(self, request: web.Request, offered: str) -> NoReturn:
        """Redirect a browser with the right pass to the page, with its cookie."""
        if request.method != "GET":  # a program that only checks an address doesn't use up its pass
            raise web.HTTPMethodNotAllowed(request.method, ["GET"])
        cookie = self._door.spend(offered)
        if cookie is None:
            raise web.HTTPForbidden(text="That pass was used or is wrong; take the one shown now.\n")
        size = request.query.get("fontsize", "")
        entered = web.HTTPFound(f"/?fontsize={size}" if size.isdecimal() else "/")
        entered.set_cookie(COOKIE, cookie, httponly=True, samesite="Strict")
        raise entered


async def _protect(_: web.Request, response: web.StreamResponse) -> None:
    """Forbid framing of the display, and caching or sending on of an address with a pass."""
    response.headers.update(
        {
            "Content-Security-Policy": "frame-ancestors 'none'",
            "X-Frame-Options": "DENY",
            "X-Content-Type-Options": "nosniff",
            "Referrer-Policy": "no-referrer",
            "Cache-Control": "no-store",
        }
    )


def plain_page() -> str:
    """Return the server's page without its link to remote fonts: a bench may have no network."""
    import textual_serve

    source = Path(textual_serve.__file__).parent / "templates" / "app_index.html"
    return re.sub(r'<link[^>]*href="https?://[^>]*>', "", source.read_text(encoding="utf-8"))


def main() -> None:
    """Serve until ended, at HOST and PORT, or at a listening socket by its number; print the passes."""
    watch_pipe(sys.stdin.buffer)
    die_with_parent()
    host, port = sys.argv[1], int(sys.argv[2])
    bound = socket.socket(fileno=int(sys.argv[3])) if len(sys.argv) > 3 else None
    door = Door(host, lambda word: print(word, flush=True))  # noqa: T201 - read by the bench
    # without a shell, so that the display is the server's own child
    command = f"{'exec ' if os.name == 'posix' else ''}{shlex.quote(sys.executable)} -m handsfree.show.viewer"
    os.environ.setdefault("PYTHONPATH", str(Path(__file__).parents[2]))
    BenchServer(command, host, port, door).serve_at(bound)


if __name__ == "__main__":
    main()
