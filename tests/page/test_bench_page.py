"""The bench's page without a browser: what is sent, keys over a bad connection, slow and many browsers."""

import asyncio
import contextlib
import json
import random
from itertools import pairwise

import pytest

from handsfree.page import bench_page as module
from handsfree.page.bench_page import MOST_WATCHERS, OVER, changes
from handsfree.show import grid_keys
from handsfree.understand import ENTER, WIPE
from tests.page.conftest import served_bench
from tests.show.scenes import view_after

aiohttp = pytest.importorskip("aiohttp")

CLIENT = "0123456789abcdef"


# ---- what is sent


def rebuilt(*forms):
    """Give the fields and cells that a page has after these messages."""
    fields, cells, axes = {}, {}, None
    for form in json.loads(json.dumps(forms)):
        fields |= form.get("view", {})
        if "axes" in form:
            axes, cells = form["axes"], {}
        cells |= {(row, column): rest for row, column, *rest in form.get("cells", [])}
    return fields, cells, axes


@pytest.mark.quick
@pytest.mark.parametrize("entries", [(), ("16.5",), ("18", "15-", "3*1*21"), ("--",)])
def test_changes_one_after_the_other_make_the_same_page_as_all_at_once(entries):
    views = [view_after(*entries[:count]) for count in range(len(entries) + 1)]
    steps = [changes(None, views[0])] + [changes(*pair) for pair in pairwise(views)]
    assert rebuilt(*steps) == rebuilt(changes(None, views[-1]))


@pytest.mark.quick
def test_only_what_differs_is_sent():
    before, after = view_after("16.5"), view_after("16.5", level_db=-20)
    assert set(changes(before, after)) == {"view"}
    assert set(changes(before, after)["view"]) == {"meter"}
    assert changes(before, before) == {}
    moved = changes(view_after("16"), view_after("16", "17"))
    assert [cell[:2] for cell in moved["cells"]] == [[0, 0]]


@pytest.mark.quick
def test_keys_of_the_grid_lead_to_each_place():
    with served_free() as bench:
        keys = grid_keys(bench.session)
        assert keys[0][2] == "3*1*"
        assert keys[1][7] == "8*2*"
        for row in keys:
            for entry in row:
                bench.key(entry)
        assert bench.session.position.get("cylinder") == "8"


@contextlib.contextmanager
def served_free():
    from handsfree.bench import Bench
    from handsfree.journal import Journal
    from tests.page.conftest import PLAN

    with Journal.in_memory() as journal:
        bench = Bench(PLAN, journal)
        bench.open()
        yield bench


# ---- a browser's connection


async def receive(socket, wanted=lambda _: True):
    """Give the next message that is wanted."""
    async with asyncio.timeout(60):
        while True:
            form = json.loads(await socket.receive_str())
            if wanted(form):
                return form


def link(session, server, client=CLIENT):
    return session.ws_connect(server.address(f"/bench/link?client={client}"))


def browse(server, visit):
    async def run():
        async with server.session() as session:
            return await visit(session)

    return asyncio.run(run())


def test_browser_gets_the_view_and_its_keys_are_carried_out():
    with served_bench() as (server, bench):

        async def visit(session):
            async with link(session, server) as socket:
                first = await receive(socket)
                assert first["view"]["place"] == "1 top"
                assert first["places"][0][0] == "1*1*"
                assert first["sound"] == "none"
                await socket.send_json({"id": 1, "keys": [*"16.5", ENTER]})
                return await receive(socket, lambda form: form.get("ack") == 1)

        browse(server, visit)
        assert bench.logged == ["16.5 thou"]
        assert {source for _, source in bench.keyed} == {f"page {CLIENT}"}


@pytest.mark.parametrize(
    "sent",
    [
        "nonsense",
        "[" * 60_000,
        "{}",
        "[]",
        '{"id": 1}',
        '{"id": "1", "keys": ["1"]}',
        '{"id": 1, "keys": "18"}',
        '{"id": 1, "keys": []}',
        '{"id": 0, "keys": ["1"]}',
        '{"id": 1, "keys": ["rm"]}',
        '{"id": 1, "keys": [["1"]]}',
        '{"id": 1, "keys": [1]}',
        json.dumps({"id": 1, "keys": ["1"] * 1000}),
    ],
)
def test_what_is_no_key_ends_that_connection_and_nothing_else(odd, sent):
    server, bench = odd

    async def visit(session):
        async with link(session, server) as socket:
            await receive(socket)
            await socket.send_str(sent)
            async with asyncio.timeout(60):
                while (await socket.receive()).type not in {
                    aiohttp.WSMsgType.CLOSE,
                    aiohttp.WSMsgType.CLOSED,
                }:
                    pass

    browse(server, visit)
    assert bench.keyed == []


@pytest.fixture(scope="module")
def odd():
    with served_bench() as at:
        yield at


def test_two_hundred_lost_connections_lose_no_key_and_double_none():
    """A page sends entries one by one, loses its connection at random instants, and sends again."""
    draw = random.Random(5)
    entries = [[*f"{number % 8 + 1}*1*{10 + number % 30}", ENTER] for number in range(300)]
    with served_bench() as (server, bench):
        cuts = browse(server, lambda session: press_all(session, server, entries, draw))
        assert cuts >= 200
        assert [str(each) for each in bench.logged] == [f"{10 + n % 30} thou" for n in range(300)]


async def press_all(session, server, entries, draw):
    waiting = dict(enumerate(entries, 1))
    cuts = 0
    while waiting:
        socket = await link(session, server)
        lasts_s = draw.uniform(0.0, 0.03) if cuts < 200 else 60.0
        most = draw.randint(1, 4) if cuts < 200 else len(waiting)
        with contextlib.suppress(TimeoutError, ConnectionError, TypeError):
            async with asyncio.timeout(lasts_s):
                for number in sorted(waiting)[:most]:
                    await socket.send_json({"id": number, "keys": waiting[number]})
                while waiting:
                    acknowledged = json.loads(await socket.receive_str()).get("ack", 0)
                    waiting = {number: keys for number, keys in waiting.items() if number > acknowledged}
        cuts += 1
        if draw.random() < 0.5:
            socket._response.connection.transport.abort()  # as when a network goes away
        else:
            await socket.close()
    return cuts


def test_a_key_sent_twice_is_done_once_and_acknowledged_twice():
    with served_bench() as (server, bench):

        async def visit(session):
            for _ in range(2):
                async with link(session, server) as socket:
                    await receive(socket)
                    await socket.send_json({"id": 7, "keys": [WIPE, *"17", ENTER]})
                    await receive(socket, lambda form: form.get("ack") == 7)

        browse(server, visit)
        assert bench.logged == ["17 thou"]


def test_one_browser_too_many_is_refused_and_there_is_room_again_when_one_leaves():
    with served_bench() as (server, _):

        async def visit(session):
            async with contextlib.AsyncExitStack() as stack:
                many = [await stack.enter_async_context(link(session, server)) for _ in range(MOST_WATCHERS)]
                for each in many:
                    await receive(each)
                async with link(session, server) as refused:
                    assert (await refused.receive()).data == module.FULL
                await many[0].close()
                async with asyncio.timeout(60):
                    while True:
                        async with link(session, server) as again:
                            if (await again.receive()).type is aiohttp.WSMsgType.TEXT:
                                return

        browse(server, visit)


def test_a_browser_that_reads_nothing_holds_nobody_up_and_gets_the_newest_at_last():
    with served_bench() as (server, bench):

        async def visit(session):
            async with link(session, server) as slow, link(session, server, "f" * 16) as quick:
                await receive(quick)
                for number in range(400):
                    bench.change(heard="x" * 20_000 + str(number))  # 8 MB if all of it were sent
                    if number % 40 == 0:
                        await receive(quick, lambda form: "heard" in form.get("view", {}))
                text = "x" * 20_000 + "399"
                await receive(quick, lambda form: form.get("view", {}).get("heard") == text)
                count = 0
                while True:
                    form = await receive(slow)
                    count += 1
                    if form.get("view", {}).get("heard") == text:
                        return count

        assert browse(server, visit) < 300


def test_page_is_told_that_the_session_is_over():
    with served_bench() as (server, bench):

        async def visit(session):
            async with link(session, server) as socket:
                await receive(socket)
                ending = asyncio.to_thread(end, server)
                task = asyncio.create_task(ending)
                async with asyncio.timeout(60):
                    while (message := await socket.receive()).type is aiohttp.WSMsgType.TEXT:
                        pass
                await task
                return message.data

        assert browse(server, visit) == OVER
        assert bench.logged == []


def end(server):
    server.page._desk = None
    server.page.nudge()
