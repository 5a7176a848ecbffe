"""Who gets in: pass, cookie, Host and Origin, first without a server, then at a real one."""

import asyncio
import contextlib
import json
import socket

import pytest

from handsfree.errors import HandsfreeError
from handsfree.page import Site
from handsfree.page.door import MOST_TRIES, TRIES_S, Door, address_of
from tests.page.conftest import free_port, served

EVERYWHERE = "0.0.0.0"  # noqa: S104 - what the pass is for
OWN = socket.gethostname().lower()


# ---- the door


def door(host, **options):
    passes = []
    return Door(host, passes.append, **options), passes


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
        ("127.0.0.1:8123", "https://127.0.0.1:8123"),
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


@pytest.mark.parametrize(
    "host",
    [
        "",
        'bench:8123"><script>',
        "[bench",
        "a" * 300,
        "b\u00e9nch",
        "example.test:8123",
        f"{OWN}.example.test",
    ],
)
def test_a_host_that_isnt_this_machines_doesnt_get_in_from_anywhere(host):
    """A stranger's name that was pointed at a shop's address (DNS rebinding) is among them."""
    at, passes = door(EVERYWHERE)
    assert not at.admits(host, None, at.spend(passes[0]))


@pytest.mark.parametrize("host", [f"{OWN}:8123", f"{OWN}.local:8123", "192.0.2.7:8123", "[fe80::1]:8123"])
def test_a_server_for_others_is_known_by_its_name_and_by_numbers(host):
    at, passes = door(EVERYWHERE, secure=True)
    cookie = at.spend(passes[0])
    assert at.admits(host, f"https://{host}", cookie)
    assert not at.admits(host, f"http://{host}", cookie)


def test_a_server_is_known_by_the_name_that_it_was_given():
    at, passes = door("bench.example.test")
    assert at.admits("bench.example.test:8123", None, at.spend(passes[0]))


@pytest.mark.parametrize("cookie", ["", "wrong", "\u00e9", "\udc80", "x" * 10_000])
def test_wrong_cookie_doesnt_get_in(cookie):
    at, passes = door("127.0.0.1")
    at.spend(passes[0])
    assert not at.admits("127.0.0.1:8123", None, cookie)


def test_pass_is_good_once_and_buys_a_cookie():
    at, passes = door("127.0.0.1")
    assert len(passes) == 1
    cookie = at.spend(passes[0])
    assert at.admits("127.0.0.1:8123", "http://127.0.0.1:8123", cookie)
    assert not at.admits("127.0.0.1:8123", None, cookie[:-1])
    assert at.spend(passes[0]) is None
    assert len(set(passes)) == 2  # a new one for the next browser
    assert at.spend(passes[1]) not in {None, cookie}


def test_pass_may_be_typed_in_groups_and_capitals():
    at, passes = door("127.0.0.1")
    typed = " ".join([passes[0][:4], passes[0][4:8], passes[0][8:]]).upper()
    assert at.spend(typed)


@pytest.mark.parametrize("offered", ["", "wrong", "\u00e9", "\udc80"])
def test_wrong_pass_buys_nothing(offered):
    assert door("127.0.0.1")[0].spend(offered) is None


def test_pass_is_too_long_to_be_guessed_at_the_tries_that_are_allowed():
    """At ten tries a minute for a year, less than one chance in a hundred thousand million."""
    letters = 31
    _, passes = door("127.0.0.1")
    tries = MOST_TRIES / TRIES_S * 365 * 24 * 3600
    assert tries / letters ** len(passes[0]) < 1e-11


def test_after_too_many_wrong_passes_even_the_right_one_waits():
    now = [0.0]
    at, passes = door("127.0.0.1", clock=lambda: now[0])
    for _ in range(MOST_TRIES):
        now[0] += 1
        assert at.spend("wrong") is None
    with pytest.raises(HandsfreeError, match="too many wrong passes; wait a minute"):
        at.spend(passes[0])
    now[0] += TRIES_S
    assert at.spend(passes[0])


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
            Site(where)


def test_address_is_held_from_the_start():
    with contextlib.closing(Site(f"127.0.0.1:{free_port()}")) as site:
        with pytest.raises(HandsfreeError, match="choose another port"):
            Site(f"127.0.0.1:{site.port}")
        site.close()
        Site(f"127.0.0.1:{site.port}").close()


# ---- a real server


@pytest.fixture(scope="module")
def server():
    def add(site):
        site.look("/asked", lambda form: {"got": dict(form)})
        site.call("/told", refused)

    with served(add=add) as at:
        yield at


def refused(form):
    if "wrong" in form:
        raise HandsfreeError("that can't be; write another")
    return {"got": dict(form)}


def test_nothing_but_the_entrance_is_shown_without_the_cookie(server):
    for path in ("/bench", "/bench/link", "/bench/sound", "/", "/asked", "/nothing"):
        assert server.knock(path, cookies={})[0] == 403
    for path in ("/enter", "/static/common.css", "/trust"):
        assert server.knock(path, cookies={})[0] == 200
    status, headers, _ = server.knock("/bench", cookies={}, headers={"Accept": "text/html"})
    assert (status, headers["Location"]) == (302, "/enter")


def test_pass_buys_a_cookie_that_scripts_cant_read_and_other_sites_cant_send(server):
    word = server.word()
    assert server.knock(f"/enter?pass={word}")[0] == 200  # looking at an address uses no pass up
    status, _, cookie = server.knock("/enter", "POST", json={"pass": word})
    assert status == 200
    assert cookie["httponly"]
    assert cookie["samesite"] == "Strict"
    mine = {server.site.cookie: cookie.value}
    assert server.knock(cookies=mine)[0] == 200
    assert server.knock("/enter", "POST", json={"pass": word})[0] == 403
    assert server.knock("/asked?a=1", cookies=mine)[0] == 200
    assert server.word() != word


@pytest.mark.parametrize(
    "body",
    [
        {"data": "pass=x", "headers": {"Content-Type": "application/x-www-form-urlencoded"}},
        {"data": json.dumps({"pass": "x"}), "headers": {"Content-Type": "text/plain"}},
        {"data": "[" * 100_000, "headers": {"Content-Type": "application/json"}},
        {"json": ["x"]},
        {"json": {"pass": 1}},
        {"json": {}},
        {"data": b"\xff\xfe", "headers": {"Content-Type": "application/json"}},
    ],
)
def test_what_is_no_pass_is_refused(server, body):
    assert server.knock("/enter", "POST", **body)[0] in {400, 415}


def test_answers_are_json_and_a_fault_is_its_sentence(server):
    server.enter()

    async def ask(form):
        async with (
            server.session() as session,
            session.post(f"http://127.0.0.1:{server.port}/told", json=form) as answer,
        ):
            return answer.status, await answer.json()

    assert asyncio.run(ask({"a": "<b>"})) == (200, {"got": {"a": "<b>"}})
    assert asyncio.run(ask({"wrong": 1})) == (400, {"error": "that can't be; write another"})


def test_only_our_own_files_may_be_scripts_and_nobody_may_frame_a_page(server):
    for path in ("/enter", "/bench", "/nothing"):
        headers = server.knock(path, cookies={})[1]
        policy = dict(each.strip().split(" ", 1) for each in headers["Content-Security-Policy"].split(";"))
        assert policy["default-src"] == "'none'"
        assert policy["script-src"] == policy["style-src"] == "'self'"
        assert policy["frame-ancestors"] == policy["base-uri"] == "'none'"
        assert headers["X-Frame-Options"] == "DENY"
        assert headers["X-Content-Type-Options"] == "nosniff"


@pytest.mark.parametrize(
    "path", ["/static/..%2fdoor.py", "/static/.hidden", "/static/", "/static/none.js", "/static/%00.js"]
)
def test_only_the_files_of_the_pages_are_handed_out(server, path):
    assert server.knock(path)[0] in {400, 403, 404}


@pytest.mark.parametrize("name", ["Origin", "Host"])
@pytest.mark.parametrize(
    "path", ["/bench/link?client=0123456789", "/bench/sound?client=0123456789", "/bench"]
)
def test_a_page_from_elsewhere_gets_no_socket_with_the_browsers_own_cookie(server, path, name):
    """Cross-site hijacking of a socket (Origin) and DNS rebinding (Host)."""
    server.enter()
    asks = {"Connection": "Upgrade", "Upgrade": "websocket", "Sec-WebSocket-Version": "13"}
    key = {"Sec-WebSocket-Key": "dGhlIHNhbXBsZSBub25jZQ=="}  # RFC 6455, section 1.3
    elsewhere = {"Origin": "http://example.test", "Host": f"example.test:{server.port}"}
    status, _, _ = server.knock(path, headers=asks | key | {name: elsewhere[name]})
    assert status == 403


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
def test_malformed_headers_are_refused(server, lines):
    assert server.raw(f"GET /bench HTTP/1.1\r\n{lines}\r\n\r\n".encode("latin-1")) in {400, 403}
    assert server.raw(f"GET /bench?%ff%00 HTTP/1.1\r\n{lines}\r\n\r\n".encode("latin-1")) in {400, 403}


def test_request_that_is_never_finished_is_dropped(monkeypatch):
    monkeypatch.setattr("handsfree.page.site.REQUEST_TIMEOUT_S", 0.3)

    async def hold(port):
        for begun in (b"", b"GET / HTTP/1.1\r\nHost: 127.0", b"GET / HTTP/1.1\r\nHost: x\r\n\r\nGET /"):
            reader, writer = await asyncio.open_connection("127.0.0.1", port)
            writer.write(begun)
            await asyncio.wait_for(reader.read(-1), 20)  # to the end of the connection
            writer.close()

    with served() as at:
        asyncio.run(hold(at.port))
