"""The display in a browser: who gets in, and a real server that shows and takes keys."""

import asyncio
import contextlib
import queue
import socket
import time

import pytest

from handsfree.commands.webbing import address_of, web_display
from handsfree.errors import HandsfreeError
from tests.show.scenes import view_after

aiohttp = pytest.importorskip("aiohttp")
web = pytest.importorskip("handsfree.show.web")

EVERYWHERE = "0.0.0.0"  # noqa: S104 - what the pass is for


# ---- the door


def door(host):
    passes = []
    return web.Door(host, passes.append), passes


@pytest.mark.parametrize("host", ["127.0.0.1:8123", "localhost:8123", "[::1]:8123"])
def test_pages_of_this_machine_get_in_when_bound_to_it(host):
    at, passes = door("127.0.0.1")
    assert at.admits(host, None, None)
    assert at.admits(host, f"http://{host}", None)
    assert passes == []


@pytest.mark.parametrize(
    ("host", "origin"),
    [
        ("example.test:8123", None),  # a name that was pointed at this machine from elsewhere
        ("127.0.0.1:8123", "http://example.test"),  # a page from elsewhere, in a browser here
        ("127.0.0.1:8123", "http://127.0.0.1:9999"),
        ("", None),
    ],
)
def test_pages_from_elsewhere_dont_get_in(host, origin):
    assert not door("127.0.0.1")[0].admits(host, origin, None)


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


@pytest.mark.parametrize("offered", ["", "wrong", "é"])
def test_wrong_pass_buys_nothing(offered):
    assert door(EVERYWHERE)[0].spend(offered) is None


def test_page_has_no_link_to_elsewhere(tmp_path):
    text = (web.plain_templates(tmp_path) / "app_index.html").read_text(encoding="utf-8")
    assert "textual.js" in text
    assert 'href="http' not in text
    assert 'src="http' not in text


# ---- addresses


@pytest.mark.parametrize("text", ["8123", "127.0.0.1", ":8123", "host:", "host:0", "host:70000", "host:x"])
def test_what_is_no_address_is_one_sentence(text):
    with pytest.raises(HandsfreeError, match="is no address for --web; write HOST:PORT"):
        address_of(text)


def free_port():
    with contextlib.closing(socket.socket()) as probe:
        probe.bind(("127.0.0.1", 0))
        return probe.getsockname()[1]


def test_taken_port_is_one_sentence():
    with contextlib.closing(socket.socket()) as taken:
        taken.bind(("127.0.0.1", 0))
        taken.listen()
        where = f"127.0.0.1:{taken.getsockname()[1]}"
        with (
            pytest.raises(HandsfreeError, match=r"can't serve at .*choose another port"),
            web_display(where, lambda: None, print, print),
        ):
            pass


# ---- the real server


def wait_until_up(port):
    until = time.monotonic() + 30
    while time.monotonic() < until:
        with contextlib.closing(socket.socket()) as probe:
            if probe.connect_ex(("127.0.0.1", port)) == 0:
                return
        time.sleep(0.05)
    raise AssertionError("the server didn't come up")


async def look_and_press(port, keys):
    """Open the display as a browser does; give its bytes until it is drawn, after pressing keys."""
    async with (
        aiohttp.ClientSession() as session,
        session.ws_connect(f"ws://127.0.0.1:{port}/ws?width=80&height=24") as page,
    ):
        seen = b""
        until = time.monotonic() + 30
        while b"SHORT" not in seen and time.monotonic() < until:
            message = await page.receive(timeout=30)
            if message.type == aiohttp.WSMsgType.BINARY:
                seen += message.data
        for key in keys:
            await page.send_json(["stdin", key])
        await asyncio.sleep(0.5)
        return seen.decode(errors="replace")


def test_browser_sees_the_board_and_its_keys_arrive():
    port, keys, said = free_port(), queue.Queue(), []
    view = view_after("16.5")
    with web_display(f"127.0.0.1:{port}", lambda: view, keys.put, said.append):
        wait_until_up(port)
        seen = asyncio.run(look_and_press(port, ["1", "8", "\r"]))
        assert "LISTENING" in seen
        assert "1 top SHORT <" in seen
        assert [keys.get(timeout=10) for _ in range(3)] == ["1", "8", "Enter"]
    assert said == [f"display: http://127.0.0.1:{port}/?fontsize=20"]


async def knock(port, path="/", **options):
    async with (
        aiohttp.ClientSession(cookie_jar=aiohttp.CookieJar(unsafe=True)) as session,
        session.get(f"http://127.0.0.1:{port}{path}", allow_redirects=False, **options) as answer,
    ):
        return answer.status, answer.cookies.get(web.COOKIE)


def test_others_need_the_pass_and_it_is_good_once():
    port, said = free_port(), queue.Queue()
    with web_display(f"{EVERYWHERE}:{port}", lambda: None, print, said.put):
        word = said.get(timeout=30).rpartition("pass=")[2]
        wait_until_up(port)
        assert asyncio.run(knock(port))[0] == 403
        assert asyncio.run(knock(port, "/ws"))[0] == 403
        status, cookie = asyncio.run(knock(port, f"/?pass={word}"))
        assert status == 302
        assert cookie["httponly"]
        assert asyncio.run(knock(port, cookies={web.COOKIE: cookie.value}))[0] == 200
        assert asyncio.run(knock(port, f"/?pass={word}"))[0] == 403
        assert "pass=" in said.get(timeout=10)


def test_page_from_elsewhere_is_refused_by_the_real_server():
    port = free_port()
    with web_display(f"127.0.0.1:{port}", lambda: None, print, print):
        wait_until_up(port)
        assert asyncio.run(knock(port, headers={"Host": "example.test"}))[0] == 403
        assert asyncio.run(knock(port))[0] == 200
