"""`handsfree front`, and `handsfree` alone: the front page in a browser, and the sessions begun there."""

from __future__ import annotations

import argparse
import contextlib
import os
import queue
import threading
import webbrowser
from collections.abc import Iterator
from pathlib import Path

from handsfree.commands import bench
from handsfree.commands.journal import verified
from handsfree.commands.options import DONE
from handsfree.commands.outputs import print_line
from handsfree.doctor import run_probes
from handsfree.errors import HandsfreeError
from handsfree.export import exported
from handsfree.journal import Journal
from handsfree.live import LiveEvent, Quit
from handsfree.page import BenchPage, FrontPage, Hands, Order, Site
from handsfree.planfile import load_plan, parse_plan
from handsfree.session import Session
from handsfree.show import new_plan

_PORTS = range(8123, 8133)
_TRIAL = {
    "plan_name": "Trial: nothing is kept",
    "engine_name": "an engine for trying",
    "cylinders": "4",
    "top_gap": "18 thou",
    "second_gap": "20 thou",
}


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Add the arguments of `handsfree front`."""
    parser.add_argument(
        "--folder", type=Path, metavar="DIR", help="where plans and journals lie (see docs/front.md)"
    )
    parser.add_argument(
        "--web", metavar="HOST:PORT", help=f"where it is served ({bench.WEB}, this machine only)"
    )
    parser.add_argument("--no-browser", action="store_true", help="print the address, open no browser")
    parser.set_defaults(run=run)


def run(options: argparse.Namespace) -> int:
    """Serve the front page until the program is ended; the sessions begun there run here."""
    folder, why = _folder(options.folder)
    with contextlib.closing(_site(options.web)) as site:
        shop = _Shop(site, folder, why)
        opened = threading.Event()

        def announce(word: str) -> None:
            lines = site.invitation(word)
            with contextlib.suppress(OSError):  # nobody reads
                for line in lines:
                    print_line(line)
            if not opened.is_set() and not options.no_browser:
                address = lines[0].rpartition(" ")[2]
                threading.Thread(target=webbrowser.open, args=(address,), daemon=True).start()
            opened.set()

        print_line(f"Plans and journals: {folder} ({why}). Ctrl-C ends the program.")
        with site.serve(announce), contextlib.suppress(KeyboardInterrupt):
            shop.run()
    return DONE


class _Shop:
    """The front page with what it does, and the sessions, one after another in this thread.

    A session's signals are taken by the main thread, so that is where it runs.
    """

    def __init__(self, site: Site, folder: Path, why: str) -> None:
        self._site = site
        self._bench = BenchPage(site)
        self._orders: queue.SimpleQueue[Order] = queue.SimpleQueue()
        self._lock = threading.Lock()
        self._order: Order | None = None  # from the moment that it was taken
        self._events: queue.SimpleQueue[LiveEvent] | None = None
        self._left = False
        self._fault = ""
        hands = Hands(self._begin, self._end, lambda: self._fault, self._at_work, exported, verified, _probes)
        FrontPage(site, folder, why, hands)
        site.home = "/front"

    def run(self) -> None:
        """Run the sessions that the page orders, until one is ended from the terminal."""
        goes_on = True
        while goes_on:
            order = self._orders.get()
            try:
                session = self._work(order)
                goes_on = self._left or session.finished
            except HandsfreeError as fault:
                self._fault = str(fault)
                print_line(f"The session can't go on: {fault}")
            finally:
                with self._lock:
                    self._order = self._events = None

    def _begin(self, order: Order) -> bool:
        with self._lock:
            if self._order is not None:
                return False
            self._order, self._events, self._left, self._fault = order, queue.SimpleQueue(), False, ""
            self._orders.put(order)
            return True

    def _end(self) -> None:
        with self._lock:
            if self._events is not None:
                self._left = True
                self._events.put(Quit())

    def _at_work(self) -> Order | None:
        return self._order if self._bench.at_work else None

    def _work(self, order: Order) -> Session:
        options = _bench_options(order, f"{self._site.host}:{self._site.port}")
        chosen = bench.bench_options(options)
        if order.plan is not None:
            return bench.work(chosen, load_plan(order.plan), options, self._bench, self._events)
        plan = parse_plan(new_plan(["ring gaps"], _TRIAL), "the trial")
        with Journal.in_memory() as journal:
            return bench.run_plain(plan, journal, chosen, print_line, self._bench, events=self._events)


def _bench_options(order: Order, where: str) -> argparse.Namespace:
    """Return the options of `handsfree bench` for a session that the page ordered."""
    parser = argparse.ArgumentParser()
    bench.add_arguments(parser)
    words = [f"--web={where}", *([f"--who={order.who}"] if order.who else [])]
    words += [f"--answers={order.answers}"] if order.answers else []
    words += [f"--changed-plan={order.changed_plan}"] if order.changed_plan else []
    words += {"page": ["--page-sound"], "keys": ["--no-microphone"]}.get(order.sound, [])
    if order.plan is not None:
        words += [f"--journal={order.journal}", "--", str(order.plan)]
    return parser.parse_args(words)


def _probes() -> Iterator[tuple[str, bool, str, str]]:
    for row in run_probes():
        yield row.name, row.ok, row.found, row.remedy


def _site(where: str | None) -> Site:
    """Return the site at an address, or at the first free usual port.

    Raises:
        HandsfreeError: the address, or every usual port, is in use.
    """
    if where is not None:
        return Site(where)
    for port in _PORTS[:-1]:
        with contextlib.suppress(HandsfreeError):
            return Site(f"127.0.0.1:{port}")
    return Site(f"127.0.0.1:{_PORTS[-1]}")


def _folder(named: Path | None) -> tuple[Path, str]:
    """Return the folder of plans and journals, and why it is this one.

    Raises:
        HandsfreeError: it isn't there, or can't be made.
    """
    if named is not None:
        if not named.is_dir():
            raise HandsfreeError(f"{named}: there is no such folder; make it, or name another with --folder")
        return named.resolve(), "named with --folder"
    here = Path.cwd()
    if here not in {Path.home(), Path(here.anchor)} and os.access(here, os.W_OK):
        return here, "the folder in which handsfree was started"
    import platformdirs

    folder = Path(platformdirs.user_documents_path()) / "handsfree"
    try:
        folder.mkdir(parents=True, exist_ok=True)
    except OSError as fault:
        why = fault.strerror or fault
        raise HandsfreeError(f"{folder}: the folder can't be made ({why}); name one with --folder") from None
    return folder, "your documents, since handsfree was started from none of your folders"
