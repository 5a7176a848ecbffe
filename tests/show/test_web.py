"""The display in a browser: who gets in, and a real server that shows and takes keys."""

import asyncio
import contextlib
import queue
import socket
import time

import pytest

from handsfree.errors import HandsfreeError
from handsfree.show import Web
from handsfree.show.serve import address_of
from tests.show.scenes import view_after
from tests.support.ports import free_port

aiohttp = pytest.importorskip("aiohttp")
web = pytest.importorskip("handsfree.show.web")

EVERYWHERE = "0.0.0.0"  # noqa: S104 - what the pass is for


# ---- the door


def door(host):
    passes = []
    return web.Door(host, passes.append), passes


@pytest.mark.parametrize("host", ["127.0.0.1:8123", "localhost:8123", "[::1]:8123"])
def test_pages_of_this_machine_need_a_pass_too_when_bound_to_it(host):
    """Other users and programs of this machine reach its loopback address as well."""
    at, passes = door("127.0.0.1")
    assert not at.admits(host, None, None)
    assert not at.admits(host, f"http://{host}", "")
    cookie = at.spend(passes[0])
    assert at.admits(host, None, cookie)
    assert at.admits(host, f"http://{host}", cookie)


@pytest.mark.parametrize(
    ("host", "origin"),
    [
        ("example.test:8123", None),  # a name that was pointed at this machine from elsewhere
        ("127.0.0.1:8123", "http://example.test"),  # a page from elsewhere, in a browser here
        ("127.0.0.1:8123", "http://127.0.0.1:9999"),
        ("127.0.0.1:8123", "http://[127.0.0.1:8123"),
        ("127.0.0.1:8123", "null"),
        ("[127.0.0.1", None),
        ("127.0.0.1]:8123", None),
        ("", None),
    ],
)
def test_pages_from_elsewhere_dont_get_in(host, origin):
    at, passes = door("127.0.0.1")
    assert not at.admits(host, origin, at.spend(passes[0]))


@pytest.mark.parametrize("host", ["", 'bench:8123"><script>', "[bench", "a" * 300, "b\u00e9nch"])
def test_a_host_that_is_no_name_doesnt_get_in_from_anywhere(host):
    at, passes = door(EVERYWHERE)
    assert not at.admits(host, None, at.spend(passes[0]))


@pytest.mark.parametrize("cookie", ["", "wrong", "\u00e9", "\udc80", "x" * 10_000])
def test_wrong_cookie_doesnt_get_in(cookie):
    at, passes = door(EVERYWHERE)
    at.spend(passes[0])
    assert not at.admits("bench:8123", None, cookie)


def test_pass_is_good_once_and_buys_a_cookie():
    at, passes = door(EVERYWHERE)
    assert len(passes) == 1
    assert not at.admits("bench:8123", None, None)
    assert not at.admits("127.0.0.1:8123", None, None)
    cookie = at.spend(passes[0])
    assert at.admits("bench:8123", "http://bench:8123", cookie)
    assert not at.admits("bench:8123", "http://example.test", cookie)
    assert not at.admits("bench:8123", None, cookie[:-1])
    assert at.spend(passes[0]) is None
    assert len(set(passes)) == 2  # a new one for the next browser
    assert at.spend(passes[1]) not in {None, cookie}


@pytest.mark.parametrize("offered", ["", "wrong", "é", "\udc80"])
def test_wrong_pass_buys_nothing(offered):
    assert door(EVERYWHERE)[0].spend(offered) is None


def test_page_has_no_link_to_elsewhere():
    text = web.plain_page()
    assert "textual.js" in text
    assert 'href="http' not in text
    assert 'src="http' not in text


# ---- addresses


@pytest.mark.parametrize("text", ["8123", "127.0.0.1", ":8123", "host:", "host:0", "host:70000", "host:x"])
def test_what_is_no_address_is_one_sentence(text):
    with pytest.raises(HandsfreeError, match="is no address for --web; write HOST:PORT"):
        address_of(text)


def test_taken_port_is_one_sentence():
    with contextlib.closing(socket.socket()) as taken:
        taken.bind(("127.0.0.1", 0))
        taken.listen()
        where = f"127.0.0.1:{taken.getsockname()[1]}"
        with pytest.raises(HandsfreeError, match=r"can't serve at .*choose another port"):
            Web(where)


def test_address_is_held_from_the_start():
    with contextlib.closing(Web(f"127.0.0.1:{free_port()}")) as web_address:
        with pytest.raises(HandsfreeError, match="choose another port"):
            Web(f"127.0.0.1:{web_address._port}")
        web_address.close()
        Web(f"127.0.0.1:{web_address._port}").close()


# ---- the real server


class Shown:
    """A server at work, and what a browser does with it."""

    def __init__(self, port, said):
        self.port, self._said = port, said
        self.cookies = {}

    def word(self):
        """Give the newest pass."""
        return self._said.get(timeout=60).rpartition("pass=")[2]

    def enter(self):
        """Come in with a pass and keep the cookie."""
        status, headers, cookie = self.knock(f"/?fontsize=20&pass={self.word()}")
        assert (status, headers["Location"]) == (302, "/?fontsize=20")
        assert cookie["httponly"]
        assert cookie["samesite"] == "Strict"
        self.cookies = {web.COOKIE: cookie.value}

    def knock(self, path="/", method="GET", **options):
        async def ask():
            options.setdefault("cookies", self.cookies)
            async with (
                aiohttp.ClientSession(cookie_jar=aiohttp.CookieJar(unsafe=True)) as session,
                session.request(
                    method, f"http://127.0.0.1:{self.port}{path}", allow_redirects=False, **options
                ) as answer,
            ):
                return answer.status, answer.headers, answer.cookies.get(web.COOKIE)

        return asyncio.run(ask())

    def raw(self, request):
        """Send bytes and give the status."""
        with contextlib.closing(socket.create_connection(("127.0.0.1", self.port), timeout=30)) as line:
            line.sendall(request)
            return int(line.recv(1000).split()[1])


@contextlib.contextmanager
def shown(host="127.0.0.1", view=None, key=lambda *_: None):
    port, said = free_port(), queue.Queue()
    with (
        contextlib.closing(Web(f"{host}:{port}")) as address,
        address.display(lambda: view, key, said.put),
    ):
        yield Shown(port, said)


async def look_and_press(page, keys=()):
    """Give what a browser is shown until the board is drawn, after pressing keys."""
    seen = b""
    until = time.monotonic() + 60
    while b"SHORT" not in seen and time.monotonic() < until:
        message = await page.receive(timeout=60)
        if message.type == aiohttp.WSMsgType.BINARY:
            seen += message.data
    for key in keys:
        await page.send_json(["stdin", key])
    await asyncio.sleep(0.5)
    return seen.decode(errors="replace")


def socket_of(session, server):
    return session.ws_connect(f"ws://127.0.0.1:{server.port}/ws?width=80&height=24")


def test_browser_sees_the_board_and_its_keys_arrive():
    keys = queue.Queue()

    async def browse(server):
        async with (
            aiohttp.ClientSession(
                cookies=server.cookies, cookie_jar=aiohttp.CookieJar(unsafe=True)
            ) as session,
            socket_of(session, server) as page,
        ):
            return await look_and_press(page, ["1", "8", "\r"])

    with shown(view=view_after("16.5"), key=lambda *pressed: keys.put(pressed)) as server:
        server.enter()
        seen = asyncio.run(browse(server))
        assert "LISTENING" in seen
        assert "1 top SHORT <" in seen
        assert [keys.get(timeout=60) for _ in range(3)] == [(key, "display 1") for key in ("1", "8", "Enter")]


@pytest.mark.parametrize("host", ["127.0.0.1", EVERYWHERE])
def test_pass_is_needed_and_good_once(host):
    with shown(host) as server:
        assert server.knock()[0] == 403
        assert server.knock("/ws")[0] == 403
        word = server.word()
        assert (
            server.knock(f"/?pass={word}", "HEAD")[0] == 405
        )  # looking at an address doesn't use its pass up
        status, _, cookie = server.knock(f"/?pass={word}")
        assert status == 302
        assert server.knock(cookies={web.COOKIE: cookie.value})[0] == 200
        assert server.knock(f"/?pass={word}")[0] == 403
        assert server.word() != word


def test_no_page_may_put_the_display_into_a_frame():
    with shown() as server:
        refused = server.knock()[1]
        server.enter()
        for headers in (refused, server.knock()[1]):
            assert headers["X-Frame-Options"] == "DENY"
            assert headers["Content-Security-Policy"] == "frame-ancestors 'none'"


@pytest.mark.parametrize(
    "lines",
    [
        "Host: example.test",
        "Host: [::1",
        "Host: 127.0.0.1]\r\nOrigin: http://[",
        "Host: 127.0.0.1\r\nOrigin: http://[::1",
        "Host: \xff\xfe",
        "Host: 127.0.0.1\r\nCookie: handsfree=\xe9\xff",
        "Host: 127.0.0.1\r\nCookie: \x22;;=;handsfree; a b=c",
        "Host: 127.0.0.1:99999999",
        "X-No-Host: 1",
    ],
)
def test_malformed_headers_are_refused(malformed, lines):
    assert malformed.raw(f"GET / HTTP/1.1\r\n{lines}\r\n\r\n".encode("latin-1")) in {400, 403}
    assert malformed.raw(f"GET /?pass=%ff%00 HTTP/1.1\r\n{lines}\r\n\r\n".encode("latin-1")) in {400, 403}


@pytest.fixture(scope="module")
def malformed():
    with shown() as server:
        yield server


def test_one_browser_too_many_is_refused_and_there_is_room_again_when_one_leaves():
    async def browse(server):
        async with contextlib.AsyncExitStack() as stack:
            session = await stack.enter_async_context(
                aiohttp.ClientSession(cookies=server.cookies, cookie_jar=aiohttp.CookieJar(unsafe=True))
            )
            pages = [
                await stack.enter_async_context(socket_of(session, server)) for _ in range(web.MOST_VIEWERS)
            ]
            with pytest.raises(aiohttp.WSServerHandshakeError) as refused:
                await socket_of(session, server)
            assert refused.value.status == 503
            await pages[0].close()
            until = time.monotonic() + 30
            while time.monotonic() < until:
                try:
                    await stack.enter_async_context(socket_of(session, server))
                except aiohttp.WSServerHandshakeError:
                    await asyncio.sleep(0.2)
                else:
                    return True
            return False

    with shown(view=view_after("16.5")) as server:
        server.enter()
        assert asyncio.run(browse(server))


def test_request_that_is_never_finished_is_dropped(monkeypatch):
    """In this process, so that it needn't be waited for as long as by a person."""
    monkeypatch.setattr(web, "REQUEST_TIMEOUT_S", 0.3)

    given = {}

    def run_app(app, **options):
        app.close()
        given.update(options)

    monkeypatch.setattr(web.web, "run_app", run_app)
    server = web.BenchServer("true", "127.0.0.1", 1, door("127.0.0.1")[0])
    server.serve_at(None)

    async def hold():
        runner = web.web.AppRunner(await server._make_app(), keepalive_timeout=given["keepalive_timeout"])
        await runner.setup()
        site = web.web.TCPSite(runner, "127.0.0.1", 0)
        await site.start()
        port = runner.addresses[0][1]
        ends = []
        for begun in (b"", b"GET / HTTP/1.1\r\nHost: 127.0", b"GET / HTTP/1.1\r\nHost: x\r\n\r\nGET /"):
            reader, writer = await asyncio.open_connection("127.0.0.1", port)
            writer.write(begun)
            await asyncio.wait_for(reader.read(-1), 20)  # to the end of the connection
            ends.append(begun)
            writer.close()
        await runner.cleanup()
        return len(ends)

    assert asyncio.run(hold()) == 3
