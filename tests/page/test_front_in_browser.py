"""The program alone, as a person starts it: a browser opens, a form makes a plan, its bench is there."""

import contextlib
import os
import re
import select
import subprocess
import sys
import time

import pytest

from tests.page.browser import WAIT_S, chromium, missing
from tests.page.conftest import free_port
from tests.support.program import ROOT

pytestmark = [
    pytest.mark.skipif(bool(missing()), reason=missing()),
    pytest.mark.skipif(os.name != "posix", reason="needs a terminal that a program can hold"),
]


class Terminal:
    """The program in a terminal of its own, with a browser that only notes the address."""

    def __init__(self, folder, *arguments):
        import pty

        notes = folder / "opened"
        script = folder / "browser"
        script.write_text(f'#!/bin/sh\nprintf %s "$1" > "{notes}.part"\nmv "{notes}.part" "{notes}"\n')
        script.chmod(0o755)
        self.notes, self.shown = notes, ""
        self.end, inner = pty.openpty()
        work = folder / "engines"
        work.mkdir()
        environment = {"PYTHONPATH": str(ROOT), "DISPLAY": ":99", "BROWSER": f"{script} %s", "TERM": "xterm"}
        self.process = subprocess.Popen(
            [sys.executable, "-m", "handsfree.cli", *arguments],
            cwd=work,
            env={**os.environ, **environment},
            stdin=inner,
            stdout=inner,
            stderr=inner,
            # the terminal becomes its own, so that Ctrl-C reaches it
            preexec_fn=lambda: os.login_tty(inner),  # noqa: PLW1509 - one call, before any thread of ours
        )
        os.close(inner)

    def until(self, condition):
        """Read what is shown until a condition holds; give its value."""
        end = time.monotonic() + 2 * WAIT_S
        while not (value := condition()):
            assert time.monotonic() < end, self.shown
            assert self.process.poll() is None, self.shown
            self._read(0.1)
        return value

    def _read(self, wait_s):
        with contextlib.suppress(OSError):
            while select.select([self.end], [], [], wait_s)[0]:
                self.shown += os.read(self.end, 65536).decode("utf-8", "replace")
                wait_s = 0

    def opened(self):
        """Give the address that the browser was opened with."""
        return self.until(lambda: self.notes.exists() and self.notes.read_text())

    def leave(self):
        """Press Ctrl-C; give the exit status."""
        os.write(self.end, b"\x03")
        end = time.monotonic() + WAIT_S
        while self.process.poll() is None and time.monotonic() < end:
            self._read(0.1)
        return self.process.returncode

    def close(self):
        with contextlib.suppress(OSError):
            self.process.kill()
        self.process.wait()
        os.close(self.end)


def write(browser, key, text):
    field = browser.driver.find_element("css selector", f"#q-{key}")
    field.clear()
    field.send_keys(text)


def test_from_no_command_to_the_first_position_of_a_new_engine(tmp_path):
    with contextlib.closing(Terminal(tmp_path, "front", "--web", f"127.0.0.1:{free_port()}")) as program:
        address = program.opened()
        assert re.fullmatch(r"http://127\.0\.0\.1:\d+/enter#[0-9a-z]{12}", address)
        program.until(lambda: address in program.shown)
        with chromium(tmp_path / "chromium") as browser:
            browser.resize(360, 640)
            browser.driver.get(address)
            browser.until(lambda: browser.text("folder") == str(tmp_path / "engines"))
            assert browser.shown("no-plans")
            browser.touch('nav a[href="#new"]')
            browser.until(lambda: browser.js("return document.querySelector('[value=\"ring gaps\"]')"))
            browser.touch('#templates [value="ring gaps"]')
            browser.until(lambda: browser.js("return document.getElementById('q-gap_plus')"))
            for key, text in (("plan_name", "<i>Monday</i>"), ("engine_name", "Lark"), ("cylinders", "many")):
                write(browser, key, text)
            write(browser, "top_gap", "18")
            write(browser, "second_gap", "20")
            browser.touch("#make")
            browser.until(lambda: browser.text("q-cylinders-fault"))
            # nothing that was typed is lost, not even by loading the page again
            browser.driver.refresh()
            browser.until(lambda: browser.js("return document.getElementById('q-top_gap')?.value") == "18")
            write(browser, "cylinders", "4")
            browser.touch("#make")
            browser.until(lambda: browser.shown("made"))
            assert browser.js("return document.querySelector('i, #targets i') === null")
            assert browser.js("return document.documentElement.scrollWidth") == 360
            browser.touch("#begin-made")
            browser.until(lambda: browser.js("return location.pathname") == "/bench", 2 * WAIT_S)
            browser.until(lambda: browser.text("place") == "1 top")
            assert browser.text("title") == "<i>Monday</i>: ring gaps"
            assert (tmp_path / "engines" / "i-monday-i.toml").exists()
            browser.touch("#home")
            browser.until(lambda: browser.shown("now"))
            browser.touch("#end")
            browser.until(lambda: not browser.shown("now"), 2 * WAIT_S)
            browser.until(lambda: "0 of 8 done" in browser.js("return document.body.textContent"))
            assert browser.log() == []
        program.until(lambda: "The log is in" in program.shown)  # until then Ctrl-C is the session's
        assert program.leave() == 0


def test_no_command_at_a_terminal_with_a_screen_is_the_front_page(monkeypatch):
    from handsfree import cli

    pytest.importorskip("aiohttp")
    monkeypatch.setattr("sys.stdout.isatty", lambda: True, raising=False)
    monkeypatch.setattr("sys.platform", "linux")
    for name in ("DISPLAY", "WAYLAND_DISPLAY"):
        monkeypatch.delenv(name, raising=False)
    assert cli._alone() == []
    monkeypatch.setenv("WAYLAND_DISPLAY", "wayland-0")
    assert cli._alone() == ["front"]
    monkeypatch.setattr("sys.stdout.isatty", lambda: False, raising=False)
    assert cli._alone() == []
