"""The demo's session in a browser: the recordings are heard at the pace at which they were spoken."""

from __future__ import annotations

import threading
import time
from collections.abc import Iterator
from pathlib import Path

import numpy as np

from handsfree.bench import Exchange
from handsfree.devices import Frame, MicrophoneFound
from handsfree.ears import Choice
from handsfree.hear import SAMPLERATE_HZ, read_sound
from handsfree.journal import Journal
from handsfree.live import Ears, LiveState
from handsfree.page import BenchPage, Site
from handsfree.planfile import load_plan
from handsfree.show import change_lines, exchange_lines
from handsfree.understand import ENTER, read_keys
from handsfree.wiring import BenchOptions, Live

WEB = "127.0.0.1:8123"
_PIECE = 512
_ROOM = 6  # of full scale, the noise between the recordings
_AFTER_S = 2.5  # to look at an answer
_KEY_S = 0.35
_LOOK_S = 0.128  # four pieces
_BEHIND = 6  # pieces that wait for the bench: it hasn't heard the room of now
_READY_S = 600.0  # for somebody to open the page


def show_in_browser(
    plan_file: Path, recordings: Path, journal_file: Path, recogniser: str, where: str
) -> None:
    """Replay the recordings of a demo at a bench that is shown in a browser.

    Raises:
        HandsfreeError: the address can't be used, or there is no such bench.
    """
    plan = load_plan(plan_file)

    def told(before: LiveState, after: LiveState, exchange: Exchange | None) -> None:
        page.nudge()
        for line in [*(exchange_lines(exchange) if exchange else []), *change_lines(before, after)]:
            print(line, flush=True)

    site = Site(where)
    page = BenchPage(site)
    with Journal.open(journal_file) as journal, site.serve(lambda word: _invite(site, word)):
        options = BenchOptions(Choice(recogniser), silent=True, deaf=True, web=True, cautions=False)
        live = Live(plan, journal, options, told)
        with page.show(live.desk()):
            print("the session begins when the page is open", flush=True)
            player = threading.Thread(target=_play, args=(live, page, recordings), daemon=True)
            player.start()
            try:
                live.loop.run()
                time.sleep(_AFTER_S)  # the page shows the end, too
            finally:
                live.close()
    site.close()


def _invite(site: Site, word: str) -> None:
    print("\n".join(site.invitation(word)), flush=True)


def _play(live: Live, page: BenchPage, recordings: Path) -> None:
    """Play the recordings in order, each when the bench has answered the one before."""
    began = time.monotonic()
    while not page.watched and time.monotonic() < began + _READY_S:
        time.sleep(0.1)
    live.events.put(MicrophoneFound("the demo's recordings", SAMPLERATE_HZ, again=False))
    for name in (recordings / "session.txt").read_text("utf-8").split():
        path = recordings / name
        if path.suffix == ".keys":
            for key in read_keys(path.read_text("utf-8"), path.name):
                live.press(key, "the demo's keys")
                _hear(live, _quiet(_KEY_S))
                if key == ENTER:
                    _wait_for_answer(live)
        else:
            _hear(live, read_sound(path))
            _wait_for_answer(live)
    live.leave()


def _wait_for_answer(live: Live) -> None:
    """Let the bench hear the quiet room until it has been ready for the next words for a while."""
    ready_s = 0.0
    while ready_s < _AFTER_S:
        _hear(live, _quiet(_LOOK_S))
        view = live.latest()
        ready = (
            view is not None and view.ears in {Ears.LISTENING, Ears.ASLEEP} and live.events.qsize() < _BEHIND
        )
        ready_s = ready_s + _LOOK_S if ready else 0.0


def _hear(live: Live, samples: np.ndarray) -> None:
    """Let the bench hear sound, in the time that it lasts, in a room that is never quite silent."""
    noise = np.random.default_rng(1).integers(-_ROOM, _ROOM + 1, len(samples)).astype(np.int16)
    due = time.monotonic()
    for piece in _pieces(np.clip(samples.astype(np.int32) + noise, -32_768, 32_767).astype(np.int16)):
        due += len(piece) / SAMPLERATE_HZ
        time.sleep(max(0.0, due - time.monotonic()))
        live.events.put(Frame(piece, time.monotonic()))


def _quiet(seconds: float) -> np.ndarray:
    return np.zeros(round(seconds * SAMPLERATE_HZ), np.int16)


def _pieces(samples: np.ndarray) -> Iterator[np.ndarray]:
    for start in range(0, len(samples), _PIECE):
        yield samples[start : start + _PIECE]
