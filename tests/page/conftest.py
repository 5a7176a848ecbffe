"""A real server with a bench behind it, and what a browser does with it."""

import asyncio
import contextlib
import queue
import socket
import threading
from datetime import datetime
from pathlib import Path

import pytest

from handsfree.bench import Bench
from handsfree.devices import KeyPressed
from handsfree.journal import Journal
from handsfree.live import Ears, LiveState, Reached
from handsfree.planfile import load_plan
from handsfree.show import bench_view, grid_keys
from handsfree.understand import ENTER
from handsfree.understand.keys import pressed

PLAN = load_plan(Path(__file__).parents[2] / "demo" / "plan.toml")
NOW = datetime(2026, 11, 25, 14, 5)


def free_port():
    with contextlib.closing(socket.socket()) as probe:
        probe.bind(("127.0.0.1", 0))
        return probe.getsockname()[1]


class SmallBench:
    """A bench that takes keys, without ears, mouth or clock; its queue is worked off by a thread."""

    def __init__(self, plan=PLAN):
        self.events = queue.SimpleQueue()
        self.changed = lambda: None
        self.begin(plan)
        self._thread = threading.Thread(target=self._work, daemon=True)
        self._thread.start()

    def begin(self, plan=PLAN):
        """Begin a new session, with nothing in it and nothing keyed."""
        self._view = None
        self.bench = Bench(plan, Journal.in_memory())
        self.answer = self.bench.open().reply.text
        self.entries = {}
        self.keyed = []
        self.state = {"ears": Ears.LISTENING, "level_db": -40, "floor_db": -58, "device": "cup"}
        self.changed()

    def key(self, entry):
        """Key an entry elsewhere than on the page, and wait until it has been carried out."""
        done = threading.Event()
        self.press([*entry, ENTER], "elsewhere", done.set)
        assert done.wait(60)

    def latest(self):
        state = LiveState(**{"answer": self.answer} | self.state)
        if self._view is None or self._view[:2] != (self.bench.session, state):
            self._view = (self.bench.session, state, bench_view(self.bench.session, state, NOW))
        return self._view[2]

    def press(self, keys, source, handled):
        for key in keys:
            self.events.put(KeyPressed(key, source))
        self.events.put(Reached(handled))

    def places(self):
        return grid_keys(self.bench.session)

    def change(self, **state):
        self.state = self.state | state
        self.changed()

    def close(self):
        self.events.put(None)
        self._thread.join(timeout=10)

    @property
    def every(self):
        return [str(entry.value) for entry in self.bench.session.log()]

    @property
    def logged(self):
        return [str(entry.value) for entry in self.bench.session.log() if entry.stands]

    def _work(self):
        while (event := self.events.get()) is not None:
            if isinstance(event, Reached):
                event.told()
                continue
            begun = self.entries.get(event.source, "")
            self.keyed.append((event.key, event.source))
            if event.key == ENTER:
                exchange = self.bench.key(begun)
                self.answer, self.entries[event.source] = exchange.reply.text, ""
                self.change(heard=exchange.words, tone=exchange.reply.tone, begun="")
            else:
                self.entries[event.source] = pressed(begun, event.key)
                self.change(begun=self.entries[event.source])


class Served:
    """A site at work with the passes that it announced, and a browser's cookies."""

    def __init__(self, site, passes):
        self.site, self.port, self._passes = site, site.port, passes
        self.cookies = {}

    def word(self):
        """Give the newest pass."""
        return self._passes[-1]

    def enter(self):
        """Come in with a pass and keep the cookie."""
        status, _, cookie = self.knock("/enter", "POST", json={"pass": self.word()})
        assert status == 200
        self.cookies = {self.site.cookie: cookie.value}

    def knock(self, path="/bench", method="GET", **options):
        """Ask for a path; give status, headers and our cookie."""
        aiohttp = pytest.importorskip("aiohttp")

        async def ask():
            options.setdefault("cookies", self.cookies)
            async with (
                aiohttp.ClientSession(cookie_jar=aiohttp.CookieJar(unsafe=True)) as session,
                session.request(
                    method, f"http://127.0.0.1:{self.port}{path}", allow_redirects=False, **options
                ) as answer,
            ):
                return answer.status, answer.headers, answer.cookies.get(self.site.cookie)

        return asyncio.run(ask())

    def raw(self, request):
        """Send bytes and give the status."""
        with contextlib.closing(socket.create_connection(("127.0.0.1", self.port), timeout=30)) as line:
            line.sendall(request)
            return int(line.recv(1000).split()[1])

    def session(self):
        """Give a client session with the cookies, to be used as a context manager."""
        aiohttp = pytest.importorskip("aiohttp")
        return aiohttp.ClientSession(cookies=self.cookies, cookie_jar=aiohttp.CookieJar(unsafe=True))

    def address(self, path):
        return f"ws://127.0.0.1:{self.port}{path}"


@contextlib.contextmanager
def served(host="127.0.0.1", desk=None, add=lambda _: None):
    """Serve the bench's page, and a desk on it."""
    pytest.importorskip("aiohttp")
    from handsfree.page import BenchPage, Site

    passes = []
    with contextlib.closing(Site(f"{host}:{free_port()}")) as site:
        page = BenchPage(site)
        add(site)
        with contextlib.ExitStack() as around:
            if desk is not None:
                around.enter_context(page.show(desk))
            around.enter_context(site.serve(passes.append))
            server = Served(site, passes)
            server.page = page
            yield server


@contextlib.contextmanager
def served_bench(plan=PLAN, sound=None):
    """Serve the page of a small bench; its browser is in."""
    from handsfree.page import Desk

    with contextlib.closing(SmallBench(plan)) as bench:
        desk = Desk(bench.latest, bench.press, bench.places, sound)
        with served(desk=desk) as server:
            bench.changed = server.page.nudge
            server.enter()
            yield server, bench
