"""The program's pages at one address: guard, headers, files, and a server in its own thread.

Pages are files in `static/`: HTML without any text from a plan, a name or a recogniser. Whatever is
shown comes as JSON and is put into the page as text, so that nothing can become markup. The whole of
`static/` is for everybody who reaches the address, since it holds nothing of the user's; everything else
needs the cookie.
"""

from __future__ import annotations

import asyncio
import contextlib
import importlib.util
import ipaddress
import json
import os
import re
import secrets
import socket
import ssl
import threading
from collections.abc import Awaitable, Callable, Iterator, Mapping
from datetime import UTC, datetime
from http.cookies import CookieError
from importlib.resources import files
from pathlib import Path
from typing import TYPE_CHECKING, Any

from handsfree.errors import HandsfreeError, install_extra
from handsfree.page.door import Door, address_of, certificate_for, is_loopback, own_names

if TYPE_CHECKING:
    from aiohttp import web

REQUEST_TIMEOUT_S = 15.0
"""Time limit of a connection for a request, and for staying open without one."""

_LARGEST_BODY = 256 * 1024
_LARGEST_PASS = 4096
_STARTS_WITHIN_S = 30.0
_TYPES = {
    "html": "text/html",
    "css": "text/css",
    "js": "text/javascript",
    "svg": "image/svg+xml",
    "png": "image/png",
    "webmanifest": "application/manifest+json",
}

_PUBLIC = frozenset({"/enter", "/service.js", "/trust", "/trust/handsfree.crt"})

Handler = Callable[["web.Request"], Awaitable["web.StreamResponse"]]
Answer = Callable[[Mapping[str, Any]], Any]
"""What a page asks for: takes the fields of a request, returns what `json.dumps` takes."""


class Site:
    """The pages at one address, bound from the moment of its creation.

    Create it before opening a journal, so that an unusable address leaves no trace there. Add pages and
    answers before it serves.

    Args:
        where: HOST:PORT.

    Raises:
        HandsfreeError: the address is in use or invalid, or the server isn't installed.
    """

    def __init__(self, where: str) -> None:
        self.host, self.port = address_of(where)
        if importlib.util.find_spec("aiohttp") is None:
            raise HandsfreeError(f"the page isn't installed; {install_extra('web')}")
        self.home = "/bench"
        """Where a browser goes first."""
        self.instance = secrets.token_hex(8)
        """Differs at each start: what a page sent to an earlier one may not have been done."""
        self._routes: list[tuple[str, str, Handler]] = []
        self._pages: dict[str, str] = {"/enter": "enter.html", "/trust": "trust.html"}
        self._authority = b""
        self._loop: asyncio.AbstractEventLoop | None = None
        self._ending: asyncio.Event | None = None
        self._fault: BaseException | None = None
        self._socket = socket.socket(socket.AF_INET6 if ":" in self.host else socket.AF_INET)
        if os.name == "posix":  # on Windows it would let two programs share the address
            self._socket.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        try:
            self._socket.bind((self.host, self.port))
            self._socket.listen(16)
        except OSError as fault:
            self._socket.close()
            reason = fault.strerror or fault
            raise HandsfreeError(f"can't serve at {where}: {reason}; choose another port") from fault

    @property
    def local(self) -> bool:
        """Whether only this machine reaches it."""
        return is_loopback(self.host)

    @property
    def cookie(self) -> str:
        """The name of the cookie. Cookies know no port: two benches of a machine need two names."""
        return f"handsfree-{self.port}"

    def close(self) -> None:
        """Release the address."""
        self._socket.close()

    def invitation(self, word: str, *, drawn: bool = False) -> list[str]:
        """Return the lines that tell a person how the next browser gets in, with its pass.

        drawn: with the address as a QR code, for a tablet's camera.
        """
        host = (
            self.host if self.local else next((name for name in own_names(self.host) if _is_number(name)), "")
        )
        host = host or socket.gethostname()
        shown = f"[{host}]" if ":" in host else host
        address = f"{'http' if self.local else 'https'}://{shown}:{self.port}"
        lines = [f"page for the next browser: {address}/enter#{word}"]
        if not self.local:
            lines += [f"or open {address} and type the pass {'-'.join(re.findall('.{1,4}', word))}"]
            lines += qr_lines(f"{address}/enter#{word}") if drawn else []
        return lines

    # ---- adding

    def page(self, path: str, file: str) -> None:
        """Serve a file of `static/` at a path, to admitted browsers."""
        self._pages[path] = file

    def look(self, path: str, answer: Answer) -> None:
        """Answer GET requests with JSON; `answer` takes the query and runs in a thread of its own."""

        async def handle(request: web.Request) -> web.StreamResponse:
            return await _answered(answer, dict(request.query))

        self.add("GET", path, handle)

    def call(self, path: str, answer: Answer) -> None:
        """Answer POST requests with JSON; `answer` takes the object sent and runs in a thread of its own.

        A `HandsfreeError` becomes ``{"error": sentence}`` with status 400.
        """

        async def handle(request: web.Request) -> web.StreamResponse:
            return await _answered(answer, await _object_of(request))

        self.add("POST", path, handle)

    def add(self, method: str, path: str, handler: Handler) -> None:
        """Serve a path, to admitted browsers, by a handler of aiohttp's: a download, a socket."""
        self._routes.append((method, path, handler))

    def hand_out(self, path: str, make: Callable[[Mapping[str, str]], tuple[bytes, str, str]]) -> None:
        """Hand out files at a path.

        `make` takes the query, runs in a thread of its own, and returns the content, its media type and
        the name to save it under; without a name it is for the page to show.
        """

        async def handle(request: web.Request) -> web.StreamResponse:
            from aiohttp import web

            try:
                content, kind, name = await asyncio.to_thread(make, dict(request.query))
            except HandsfreeError as fault:
                return web.json_response({"error": str(fault)}, status=400)
            response = web.Response(body=content, content_type=kind)
            if name:
                plain = re.sub(r"[^A-Za-z0-9._ -]", "_", name)
                response.headers["Content-Disposition"] = f'attachment; filename="{plain}"'
            return response

        self.add("GET", path, handle)

    # ---- serving

    @contextlib.contextmanager
    def serve(self, announce: Callable[[str], object]) -> Iterator[None]:
        """Serve while the block runs; `announce` takes each new pass, good for one browser."""
        context = self._secure()
        ready = threading.Event()
        door = Door(self.host, announce, secure=context is not None)
        thread = threading.Thread(
            target=self._run, args=(self.app(door), context, ready), name="pages", daemon=True
        )
        thread.start()
        if not ready.wait(_STARTS_WITHIN_S) or self._fault is not None:
            raise HandsfreeError(f"the page can't be served: {self._fault or 'it took too long'}; try again")
        try:
            yield
        finally:
            self.soon(self._end)
            thread.join(timeout=5)

    def soon(self, call: Callable[[], object]) -> None:
        """Call a function in the server's thread. Thread-safe; nothing happens unless it serves."""
        loop = self._loop
        if loop is not None:
            with contextlib.suppress(RuntimeError):  # it has just ended
                loop.call_soon_threadsafe(call)

    def app(self, door: Door) -> web.Application:
        """Return the application with all that was added."""
        from aiohttp import web

        app = web.Application(client_max_size=_LARGEST_BODY, middlewares=[_guard(door, self.cookie)])
        app.on_response_prepare.append(_protect)
        app.router.add_get("/", self._go_home)
        app.router.add_post("/enter", self._enter(door))
        app.router.add_get("/static/{name}", _static)
        # at the top, since a service worker controls only what lies beside it and below
        app.router.add_get("/service.js", _file("service.js"))
        app.router.add_get("/trust/handsfree.crt", self._certificate)
        for path, file in self._pages.items():
            app.router.add_get(path, _file(file))
        for method, path, handler in self._routes:
            app.router.add_route(method, path, handler)
        return app

    def _secure(self) -> ssl.SSLContext | None:
        """Return the context of TLS; None for this machine alone, where browsers ask for none.

        Raises:
            HandsfreeError: there is no certificate to be had.
        """
        if self.local:
            return None
        import platformdirs

        folder = Path(platformdirs.user_data_path("handsfree", appauthor=False)) / "page"
        made = certificate_for(own_names(self.host), folder, datetime.now(UTC))
        self._authority = made.authority.read_bytes()
        context = ssl.SSLContext(ssl.PROTOCOL_TLS_SERVER)
        context.minimum_version = ssl.TLSVersion.TLSv1_2
        context.load_cert_chain(made.chain, made.key)
        return context

    async def _certificate(self, _: web.Request) -> web.StreamResponse:
        """Hand out the authority's certificate, for a tablet to trust."""
        from aiohttp import web

        if not self._authority:
            raise web.HTTPNotFound(text="This machine's own page needs no certificate.\n")
        response = web.Response(body=self._authority, content_type="application/x-x509-ca-cert")
        response.headers["Content-Disposition"] = 'attachment; filename="handsfree.crt"'
        return response

    def _run(self, app: web.Application, context: ssl.SSLContext | None, ready: threading.Event) -> None:
        async def work() -> None:
            from aiohttp import web

            runner = web.AppRunner(
                app,
                handle_signals=False,
                access_log=None,
                keepalive_timeout=REQUEST_TIMEOUT_S,
                shutdown_timeout=1,
            )
            self._loop, self._ending = asyncio.get_running_loop(), asyncio.Event()
            await runner.setup()
            await web.SockSite(runner, self._socket, ssl_context=context).start()
            ready.set()
            await self._ending.wait()
            await runner.cleanup()

        try:
            asyncio.run(work())
        except Exception as fault:
            self._fault = fault
        finally:
            self._loop = None
            ready.set()

    def _end(self) -> None:
        if self._ending is not None:
            self._ending.set()

    async def _go_home(self, _: web.Request) -> web.StreamResponse:
        from aiohttp import web

        return web.HTTPFound(self.home)

    def _enter(self, door: Door) -> Handler:
        """Return the handler that exchanges a pass for the cookie."""

        async def enter(request: web.Request) -> web.StreamResponse:
            from aiohttp import web

            offered = (await _object_of(request)).get("pass")
            if not isinstance(offered, str) or len(offered) > _LARGEST_PASS:
                return web.json_response({"error": "There is no pass in that."}, status=400)
            try:
                cookie = door.spend(offered)
            except HandsfreeError as fault:
                return web.json_response({"error": str(fault)}, status=429)
            if cookie is None:
                wrong = "That pass is wrong or was used; take the one that is shown at the bench now."
                return web.json_response({"error": wrong}, status=403)
            entered = web.json_response({"go": self.home})
            entered.set_cookie(
                self.cookie, cookie, httponly=True, samesite="Strict", secure=request.secure, path="/"
            )
            return entered

        return enter


def _guard(door: Door, name: str) -> Any:
    from aiohttp import web

    @web.middleware
    async def guard(request: web.Request, handler: Handler) -> web.StreamResponse:
        """Let in nobody from elsewhere, and nobody without a cookie but to the entrance."""
        origin = request.headers.get("Origin")
        try:
            cookie = request.cookies.get(name)
        except CookieError as fault:
            raise web.HTTPBadRequest(text="That cookie can't be read.\n") from fault
        if not door.knows(request.host, origin):
            raise web.HTTPForbidden(text="This page is open under the bench's own address only.\n")
        public = request.path.startswith("/static/") or request.path in _PUBLIC
        if not public and not door.admits(request.host, origin, cookie):
            if request.method == "GET" and "text/html" in request.headers.get("Accept", ""):
                raise web.HTTPFound("/enter")  # the fragment, where the pass is, goes along by itself
            raise web.HTTPForbidden(text="Open this page with the pass that the bench shows.\n")
        return await handler(request)

    return guard


async def _protect(request: web.Request, response: web.StreamResponse) -> None:
    """Forbid all scripts and styles but our files, framing, and keeping what is the user's."""
    scheme = "wss" if request.secure else "ws"
    response.headers.update(
        {
            # not every browser counts a socket to the page's own host as 'self'; the guard checked the host
            "Content-Security-Policy": "default-src 'none'; script-src 'self'; style-src 'self'; "
            f"img-src 'self'; connect-src 'self' {scheme}://{_plain(request.host)}; manifest-src 'self'; "
            "worker-src 'self'; base-uri 'none'; form-action 'self'; frame-ancestors 'none'",
            "Permissions-Policy": "microphone=(self), screen-wake-lock=(self), camera=(), geolocation=()",
            "Cross-Origin-Opener-Policy": "same-origin",
            "Cross-Origin-Resource-Policy": "same-origin",
            "X-Frame-Options": "DENY",
            "X-Content-Type-Options": "nosniff",
            "Referrer-Policy": "no-referrer",
        }
    )
    response.headers.setdefault("Cache-Control", "no-store")


def _plain(host: str) -> str:
    """Return a Host header that is fit for a policy: a refused request's may hold anything."""
    return "".join(letter for letter in host if letter.isascii() and (letter.isalnum() or letter in ".:[]-_"))


def _file(name: str) -> Handler:
    """Return the handler of one file of `static/`."""

    async def handle(_: web.Request) -> web.StreamResponse:
        return _file_response(name, kept=False)

    return handle


async def _static(request: web.Request) -> web.StreamResponse:
    return _file_response(request.match_info["name"], kept=True)


def _file_response(name: str, *, kept: bool) -> web.StreamResponse:
    from aiohttp import web

    kind = _TYPES.get(name.rpartition(".")[2])
    path = files("handsfree.page") / "static" / name
    if kind is None or "/" in name or "\\" in name or name.startswith(".") or not path.is_file():
        raise web.HTTPNotFound(text="There is no such page.\n")
    response = web.Response(body=path.read_bytes(), content_type=kind, charset="utf-8")
    if kept:
        response.headers["Cache-Control"] = "no-cache"
    return response


async def _object_of(request: web.Request) -> dict[str, Any]:
    """Return the JSON object in a request; a form of another page can't send one."""
    from aiohttp import web

    if request.content_type != "application/json":
        raise web.HTTPUnsupportedMediaType(text="Send JSON.\n")
    try:
        form = json.loads(await request.text())
    except (ValueError, RecursionError) as fault:
        raise web.HTTPBadRequest(text="That isn't JSON.\n") from fault
    if not isinstance(form, dict):
        raise web.HTTPBadRequest(text="Send a JSON object.\n")
    return form


async def _answered(answer: Answer, form: Mapping[str, Any]) -> web.StreamResponse:
    from aiohttp import web

    try:
        return web.json_response(await asyncio.to_thread(answer, form))
    except HandsfreeError as fault:
        return web.json_response({"error": str(fault)}, status=400)


def qr_lines(text: str) -> list[str]:
    """Return a QR code as lines of half blocks: two rows of it in each, light on a dark terminal.

    Raises:
        HandsfreeError: the package for it isn't installed.
    """
    if importlib.util.find_spec("segno") is None:
        raise HandsfreeError(f"a QR code can't be drawn; {install_extra('web')}")
    import segno

    rows = [list(row) for row in segno.make(text, error="m", micro=False).matrix_iter(border=4)]
    rows += [[0] * len(rows[0])] * (len(rows) % 2)
    blocks = {(0, 0): "█", (0, 1): "▀", (1, 0): "▄", (1, 1): " "}
    return [
        "".join(blocks[min(upper, 1), min(lower, 1)] for upper, lower in zip(above, below, strict=True))
        for above, below in zip(rows[::2], rows[1::2], strict=True)
    ]


def _is_number(name: str) -> bool:
    with contextlib.suppress(ValueError):
        return not ipaddress.ip_address(name).is_loopback
    return False
