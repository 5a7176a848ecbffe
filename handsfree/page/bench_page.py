"""The bench's page: its view as JSON, keys that are never lost and never doubled, and its sound.

One socket carries the view and the keys, another the sound. Of the view only what has changed is sent, and
always the newest: a slow browser skips what lay between, and never holds the bench up.
"""

from __future__ import annotations

import asyncio
import contextlib
import json
import re
from collections import OrderedDict
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, field, fields
from typing import TYPE_CHECKING, Any

from handsfree.devices import OTHER
from handsfree.page.site import Site
from handsfree.page.sound import FASTEST_HZ, SLOWEST_HZ, PageLine, PageSound
from handsfree.show import BenchView
from handsfree.understand import BACK, KEYS

if TYPE_CHECKING:
    from aiohttp import web

MOST_WATCHERS = 8
"""Browsers that show the bench at the same time."""

_MOST_KEYS = 40  # in one message: a place and a reading have fewer
_MOST_REMEMBERED = 1000  # pages whose last key is remembered
_BETWEEN_S = 0.05  # between two messages to one browser: what changes in that time is sent together
_BEAT_S = 2.0  # a browser that hears nothing for longer than a few of these takes its connection for lost
_LOOK_EVERY_S = 1.0  # for the clock
_PING_S = 8.0
_LARGEST_MESSAGE = 64 * 1024
_SILENT_S = 3.0  # a page that holds the microphone and sends nothing
_MOST_WAITING = 64  # messages to a page's loudspeaker: an answer is two
_GIVEN_UP_EVERY_S = 0.1
_NUMBER_BYTES = 4  # before each piece of sound: its number
_CLIENT = re.compile("[0-9a-f]{8,64}")

# Reasons for closing a socket, in the range that RFC 6455 leaves to applications.
FULL, OVER, TAKEN, NO_SOUND, BAD, HUNG = 4001, 4002, 4003, 4004, 4005, 4006


@dataclass(frozen=True)
class Desk:
    """What the page needs of a bench at work.

    latest: returns the newest view. press: takes keys, the name of their source and a function to call when
    they have been handled; from any thread. places: returns the keys that lead to each cell of the grid, row
    by row. sound: microphone and loudspeaker; None if the bench is to be silent and deaf.
    """

    latest: Callable[[], BenchView | None]
    press: Callable[[Sequence[str], str, Callable[[], object]], object]
    places: Callable[[], Sequence[Sequence[str]]]
    sound: PageSound | None = None


def changes(before: BenchView | None, after: BenchView) -> dict[str, Any]:
    """Return what differs between two views as plain data.

    ``view`` has the changed fields but the grid; ``axes`` the labels of the grid if they differ; ``cells``
    the changed cells as [row, column, sign, value, in hand], a sign of None where there is no position.
    """
    form: dict[str, Any] = {}
    for each in fields(after):
        value = getattr(after, each.name)
        if each.name != "grid" and (before is None or value != getattr(before, each.name)):
            form[each.name] = value
    changed: dict[str, Any] = {"view": form} if form else {}
    known = None if before is None else before.grid
    grid = after.grid
    if known is grid:
        return changed
    same = known is not None and (known.across, known.down) == (grid.across, grid.down)
    if not same:
        changed["axes"] = {"across": grid.across, "down": grid.down}
    cells = [
        [row, column, None, "", False] if cell is None else [row, column, cell.mark, cell.value, cell.in_hand]
        for row, line in enumerate(grid.cells)
        for column, cell in enumerate(line)
        if not same or known is None or known.cells[row][column] != cell
    ]
    if cells:
        changed["cells"] = cells
    return changed


@dataclass(eq=False)
class _Watcher:
    """A browser's connection, and what it hasn't been sent yet."""

    client: str
    socket: web.WebSocketResponse
    stirred: asyncio.Event = field(default_factory=asyncio.Event)
    acknowledged: int = 0
    shown: BenchView | None = None
    told: dict[str, Any] = field(default_factory=dict)
    number: int = 0

    def news(self, desk: Desk) -> dict[str, Any]:
        """Return what has changed since the last message, for the next one."""
        form: dict[str, Any] = {}
        view = desk.latest()
        if view is not None and view is not self.shown:
            form = changes(self.shown, view)
            if "axes" in form or (self.shown is not None and self.shown.check != view.check):
                form["places"] = desk.places()
            self.shown = view
        held = "" if desk.sound is None else desk.sound.holder
        state = {
            "ack": self.acknowledged,
            "sound": "none"
            if desk.sound is None
            else "here"
            if not held
            else "mine"
            if held == self.client
            else "page",
        }
        for name, value in state.items():
            if self.told.get(name) != value:
                self.told[name] = form[name] = value
        return form


class BenchPage:
    """The bench's page on a site: `/bench` and its two sockets."""

    def __init__(self, site: Site) -> None:
        self._site = site
        self._desk: Desk | None = None
        self._sessions = 0
        self._watchers: set[_Watcher] = set()
        self._speaking: set[web.WebSocketResponse] = set()
        self._applied: OrderedDict[str, int] = OrderedDict()
        site.page("/bench", "bench.html")
        site.add("GET", "/bench/link", self._link)
        site.add("GET", "/bench/sound", self._sound)

    @contextlib.contextmanager
    def show(self, desk: Desk) -> Iterator[None]:
        """Show a bench while the block runs."""
        self._sessions += 1
        self._applied = OrderedDict()
        self._desk = desk
        try:
            yield
        finally:
            self._desk = None
            self.nudge()

    @property
    def at_work(self) -> bool:
        """Whether a bench is shown."""
        return self._desk is not None

    @property
    def watched(self) -> bool:
        """Whether any browser shows it."""
        return bool(self._watchers)

    def nudge(self) -> None:
        """Have changes sent to the browsers. Thread-safe."""
        self._site.soon(self._stir)

    def _stir(self) -> None:
        for watcher in self._watchers:
            watcher.stirred.set()

    # ---- the view and the keys

    async def _link(self, request: web.Request) -> web.StreamResponse:
        from aiohttp import web

        socket = web.WebSocketResponse(heartbeat=_PING_S, max_msg_size=_LARGEST_MESSAGE)
        await socket.prepare(request)
        desk, client = self._desk, request.query.get("client", "")
        if not _CLIENT.fullmatch(client):
            await socket.close(code=BAD, message=b"no client")
        elif desk is None:
            await socket.close(code=OVER, message=b"no session")
        elif len(self._watchers) >= MOST_WATCHERS:
            await socket.close(code=FULL, message=b"too many browsers")
        else:
            await self._attend(_Watcher(client, socket), desk)
        return socket

    async def _attend(self, watcher: _Watcher, desk: Desk) -> None:
        from aiohttp import WSMsgType

        self._watchers.add(watcher)
        sending = asyncio.create_task(self._tell(watcher, desk))
        try:
            async for message in watcher.socket:
                if message.type is not WSMsgType.TEXT or not self._take(watcher, desk, message.data):
                    await watcher.socket.close(code=BAD, message=b"not understood")
        finally:
            self._watchers.discard(watcher)
            sending.cancel()
            with contextlib.suppress(asyncio.CancelledError):
                await sending

    async def _tell(self, watcher: _Watcher, desk: Desk) -> None:
        """Send a browser what is new, for as long as its connection and the session last."""
        first = {"instance": f"{self._site.instance}.{self._sessions}", **watcher.news(desk)}
        loop = asyncio.get_running_loop()
        said_at = 0.0
        with contextlib.suppress(ConnectionError):
            while self._desk is desk:
                form = first or watcher.news(desk)
                first = {}
                if form or loop.time() >= said_at + _BEAT_S:
                    watcher.number += 1
                    await watcher.socket.send_json({"seq": watcher.number, **form})
                    said_at = loop.time()
                    await asyncio.sleep(_BETWEEN_S)
                with contextlib.suppress(TimeoutError):
                    await asyncio.wait_for(watcher.stirred.wait(), _LOOK_EVERY_S)
                watcher.stirred.clear()
            await watcher.socket.close(code=OVER, message=b"the session is over")

    def _take(self, watcher: _Watcher, desk: Desk, text: str) -> bool:
        """Take a message of a browser; return whether it was understood.

        Keys carry a number that counts up. A number that was seen before is only acknowledged: the page
        sends again what was under way when its connection was lost.
        """
        try:
            form = json.loads(text)
            number, keys = form["id"], form["keys"]
        except (ValueError, KeyError, TypeError, RecursionError):
            return False
        if not isinstance(number, int) or not isinstance(keys, list) or not 0 < len(keys) <= _MOST_KEYS:
            return False
        if number < 1 or any(not isinstance(key, str) or key not in KEYS | {BACK, OTHER} for key in keys):
            return False
        fresh = number > self._applied.get(watcher.client, 0)
        if fresh:
            self._applied[watcher.client] = number
            self._applied.move_to_end(watcher.client)
            if len(self._applied) > _MOST_REMEMBERED:
                self._applied.popitem(last=False)
        # the mark alone for one seen before: it may still be waiting in the bench's queue
        desk.press(
            keys if fresh else (),
            f"page {watcher.client}",
            lambda: self._site.soon(lambda: self._acknowledge(watcher, number)),
        )
        return True

    def _acknowledge(self, watcher: _Watcher, number: int) -> None:
        watcher.acknowledged = max(watcher.acknowledged, number)
        watcher.stirred.set()

    # ---- the sound

    async def _sound(self, request: web.Request) -> web.StreamResponse:
        """Connect a page's microphone and loudspeaker.

        Its first message says how fast it samples and plays, and whether it may take them from another
        page. Then it sends its sound, and answers to what it is to play.
        """
        from aiohttp import web

        socket = web.WebSocketResponse(heartbeat=_PING_S, max_msg_size=_LARGEST_MESSAGE, compress=False)
        await socket.prepare(request)
        desk, client = self._desk, request.query.get("client", "")
        sound = None if desk is None else desk.sound
        if sound is None or not _CLIENT.fullmatch(client):
            await socket.close(code=NO_SOUND, message=b"no sound here")
            return socket
        hello = await _greeting(socket)
        heard_hz, played_hz = _rate(hello, "heard_hz"), _rate(hello, "played_hz")
        if heard_hz is None or played_hz is None:
            await socket.close(code=BAD, message=b"not understood")
        elif sound.holder not in {"", client} and hello.get("take") is not True:
            await socket.close(code=TAKEN, message=b"another page has the microphone")
        else:
            outgoing: asyncio.Queue[bytes] = asyncio.Queue(_MOST_WAITING)

            def send(data: bytes) -> None:
                with contextlib.suppress(asyncio.QueueFull):  # it hangs: the player soon gives it up
                    outgoing.put_nowait(data)

            name = str(hello.get("name") or "the page's microphone")[:80]
            line = PageLine(lambda data: self._site.soon(lambda: send(data)), heard_hz, played_hz, name)
            sound.take(client, line)
            self._stir()
            await self._hold(socket, sound, line, client, outgoing)
        return socket

    async def _hold(
        self,
        socket: web.WebSocketResponse,
        sound: PageSound,
        line: PageLine,
        client: str,
        outgoing: asyncio.Queue[bytes],
    ) -> None:
        """Pass sound both ways until one side ends it."""

        async def send() -> None:
            with contextlib.suppress(ConnectionError):
                while True:
                    await socket.send_bytes(await outgoing.get())

        async def watch() -> None:
            while not line.closed.is_set():
                await asyncio.sleep(_GIVEN_UP_EVERY_S)
            kept = sound.holder == client  # it hung, and may come back at once
            await socket.close(code=HUNG if kept else TAKEN, message=b"given up")

        tasks = [asyncio.create_task(send()), asyncio.create_task(watch())]
        why = "the connection to the page was lost"
        try:
            why = await _listen(socket, sound, line)
        finally:
            for task in tasks:
                task.cancel()
            await asyncio.gather(*tasks, return_exceptions=True)
            sound.lost(line, why)
            self._stir()
            with contextlib.suppress(ConnectionError):
                await socket.close()


async def _greeting(socket: web.WebSocketResponse) -> dict[str, Any]:
    """Return the first message of a page's sound; empty if it isn't one."""
    try:
        return _object(await socket.receive_str(timeout=_SILENT_S))
    except (TypeError, TimeoutError):  # another kind of message, or none
        return {}


async def _listen(socket: web.WebSocketResponse, sound: PageSound, line: PageLine) -> str:
    """Pass a page's sound and answers on until they end; return why they did."""
    from aiohttp import WSMsgType

    while True:
        try:
            message = await socket.receive(timeout=_SILENT_S)
        except TimeoutError:
            return "no sound comes from the page"
        if message.type is WSMsgType.BINARY and len(message.data) > _NUMBER_BYTES:
            number = int.from_bytes(message.data[:_NUMBER_BYTES], "little")
            sound.heard(line, number, message.data[_NUMBER_BYTES:])
        elif message.type is WSMsgType.TEXT:
            form = _object(message.data)
            if form.get("give_back") is True:
                sound.give_back()
            line.answered(form)
        else:
            return "the connection to the page was lost"


def _rate(hello: dict[str, Any], name: str) -> int | None:
    rate = hello.get(name)
    return rate if isinstance(rate, int) and SLOWEST_HZ <= rate <= FASTEST_HZ else None


def _object(text: str) -> dict[str, Any]:
    """Return the JSON object in a message; empty if there is none."""
    try:
        form = json.loads(text)
    except (ValueError, RecursionError):
        return {}
    return form if isinstance(form, dict) else {}
