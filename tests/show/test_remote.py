"""Views handed to other processes, and keys handed back."""

import json
import os
import queue
import time
from multiprocessing import AuthenticationError
from multiprocessing.connection import Client

import pytest

from handsfree.show.remote import ADDRESS, SECRET, ViewClient, ViewServer, view_json, view_of
from tests.show.scenes import view_after

pytestmark = pytest.mark.quick


@pytest.mark.parametrize("entries", [(), ("16.5",), ("18", "15-", "3*1*21"), ("--",)])
def test_view_survives_the_journey_through_json(entries):
    view = view_after(*entries, trouble=("Microphone lost.",), begun="1")
    assert view_of(json.loads(json.dumps(view_json(view)))) == view


@pytest.fixture
def served():
    views, keys = [view_after()], queue.Queue()
    server = ViewServer(lambda: views[-1], keys.put)
    yield server, views, keys
    server.close()


def wait_for(condition):
    until = time.monotonic() + 10
    while not condition() and time.monotonic() < until:
        time.sleep(0.01)
    assert condition()


def test_display_gets_each_new_view_and_sends_keys(served):
    server, views, keys = served
    client = ViewClient(server.environment, lambda: None)
    wait_for(lambda: client.latest() == views[0])
    views.append(view_after("16.5"))
    wait_for(lambda: client.latest() == views[1])
    for key in ("1", "8", "Enter"):
        client.press(key)
    assert [keys.get(timeout=60) for _ in range(3)] == ["1", "8", "Enter"]


def test_two_displays_see_the_same(served):
    server, views, _ = served
    clients = [ViewClient(server.environment, lambda: None) for _ in range(2)]
    wait_for(lambda: all(client.latest() == views[0] for client in clients))


def test_what_is_no_key_is_dropped(served):
    server, _, keys = served
    client = ViewClient(server.environment, lambda: None)
    for key in ("a", "", "Enter; rm", "9"):
        client.press(key)
    assert keys.get(timeout=60) == "9"


def test_wrong_secret_gets_nothing_and_the_next_display_still_does(served):
    server, views, _ = served
    address = json.loads(server.environment[ADDRESS])
    with pytest.raises((AuthenticationError, OSError, EOFError)):
        Client(tuple(address) if isinstance(address, list) else address, authkey=os.urandom(32))
    client = ViewClient(server.environment, lambda: None)
    wait_for(lambda: client.latest() == views[0])


def test_display_is_told_when_the_bench_has_gone(served):
    server, views, _ = served
    gone = queue.Queue()
    client = ViewClient(server.environment, lambda: gone.put(True))
    wait_for(lambda: client.latest() == views[0])
    server.close()
    assert gone.get(timeout=60)


def test_secret_is_new_each_time(served):
    other = ViewServer(lambda: None, print)
    assert other.environment[SECRET] != served[0].environment[SECRET]
    other.close()
