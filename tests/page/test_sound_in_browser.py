"""The whole path with sound: a recording as the browser's microphone, the answer as the browser plays it."""

import base64
import os
import queue
import re
import signal
import subprocess
import sys
import threading
import time

import numpy as np
import pytest

from handsfree.hear import SAMPLERATE_HZ, read_sound
from handsfree.journal import Journal
from handsfree.planfile import load_plan
from handsfree.session import fold
from handsfree.speak import EngineVoice, Sound
from tests.measure.understood import LISTENERS, Answer, at_16k, judged, used_to
from tests.page.browser import chromium, missing
from tests.page.conftest import free_port
from tests.support.program import PLAN, RECORDINGS, ROOT
from tests.support.room import write_wav

pytestmark = [pytest.mark.skipif(bool(missing()), reason=missing()), pytest.mark.xdist_group("chromium")]

WAIT_S = 120
# Notes each sound that the page plays, and when; and when it sent its last loud piece of sound.
WATCH = """
window.played = [];
window.loudest = [];
const start = AudioBufferSourceNode.prototype.start;
AudioBufferSourceNode.prototype.start = function (when) {
  const samples = this.buffer.getChannelData(0);
  const bytes = new Uint8Array(new Float32Array(samples).buffer);
  let text = "";
  for (let n = 0; n < bytes.length; n += 4096) text += String.fromCharCode(...bytes.subarray(n, n + 4096));
  const in_ms = 1000 * (when - this.context.currentTime + this.context.outputLatency);
  window.played.push({ rate: this.buffer.sampleRate, at: performance.now() + in_ms, samples: btoa(text) });
  return start.call(this, when);
};
const send = WebSocket.prototype.send;
WebSocket.prototype.send = function (data) {
  if (data instanceof Uint8Array) {
    let most = 0;
    const samples = new Int16Array(data.buffer.slice(4));
    for (const each of samples) most = Math.max(most, Math.abs(each));
    window.loudest.push([performance.now(), most]);
  }
  return send.call(this, data);
};
"""


class Program:
    """`handsfree bench --web --page-sound` in a process of its own, with its lines."""

    def __init__(self, folder, *options):
        self.port, self.journal = free_port(), folder / "log.journal"
        homes = {
            f"XDG_{name}_HOME": str(folder / name.lower()) for name in ("DATA", "CACHE", "CONFIG", "STATE")
        }
        self.process = subprocess.Popen(
            [
                *(sys.executable, "-m", "handsfree.cli", "bench", str(PLAN), "--recogniser", "phrase"),
                *(
                    "--web",
                    f"127.0.0.1:{self.port}",
                    "--page-sound",
                    "--journal",
                    str(self.journal),
                    *options,
                ),
            ],
            env=os.environ | homes | {"PYTHONPATH": str(ROOT)},
            stdin=subprocess.PIPE,
            stdout=subprocess.PIPE,
            stderr=subprocess.STDOUT,
            text=True,
        )
        self._lines = queue.Queue()
        self.said = []
        self._reader = threading.Thread(target=self._read, daemon=True)
        self._reader.start()

    def _read(self):
        for line in self.process.stdout:
            self._lines.put(line.rstrip("\n"))

    def wait_for(self, what):
        """Wait for a line in which this is found; give the match."""
        until = time.monotonic() + WAIT_S
        while time.monotonic() < until:
            try:
                self.said.append(self._lines.get(timeout=0.2))
            except queue.Empty:
                assert self.process.poll() is None, self.said
                continue
            if found := re.search(what, self.said[-1]):
                return found
        raise AssertionError(self.said)

    def word(self):
        """Give the pass of the next browser."""
        return self.wait_for(r"/enter#(\w+)")[1]

    def end(self):
        self.process.send_signal(signal.SIGINT)
        self.process.wait(timeout=WAIT_S)
        self._reader.join(timeout=WAIT_S)
        for pipe in (self.process.stdin, self.process.stdout):
            pipe.close()


def recording(folder, *names, before_s=4.0):
    """Write demo recordings as one file for the browser's microphone, each after a pause."""
    parts = []
    for name in names:
        parts += [np.zeros(round(before_s * SAMPLERATE_HZ), np.int16), read_sound(RECORDINGS / name)]
    noise = np.random.default_rng(1).integers(-3, 4, sum(map(len, parts))).astype(np.int16)
    return write_wav(folder / "microphone.wav", np.concatenate(parts) + noise, SAMPLERATE_HZ)


def played(browser):
    """Give the sounds that the page has played, at 16 kHz."""
    sounds = []
    for each in browser.js("return window.played"):
        samples = np.frombuffer(base64.b64decode(each["samples"]), "<f4")
        sounds.append(
            at_16k(Sound((samples * 32768).clip(-32768, 32767).astype(np.int16), round(each["rate"])))
        )
    return sounds


@pytest.fixture(scope="module")
def spoken(tmp_path_factory):
    """One reading spoken into the browser: what the page, the journal and the browser's sound have of it."""
    folder = tmp_path_factory.mktemp("spoken")
    program = Program(folder)
    try:
        word = program.word()
        program.wait_for("^answer: Ready")
        with chromium(folder, recording(folder, "01-michael.ogg")) as browser:
            browser.cdp("Page.addScriptToEvaluateOnNewDocument", source=WATCH)
            browser.driver.get(f"http://127.0.0.1:{program.port}/enter#{word}")
            browser.until(lambda: browser.text("clock"), WAIT_S)
            browser.until(lambda: browser.shown("sound"), WAIT_S)
            if browser.shown("notice"):
                browser.touch("#noticed")
            browser.touch("#sound")
            browser.until(lambda: browser.text("sound") == "Microphone off", WAIT_S)
            browser.until(lambda: browser.text("reading") == "14.5", WAIT_S)
            browser.until(lambda: browser.text("ears-word") == "listening", WAIT_S)
            page = {name: browser.text(name) for name in ("of", "amount", "word", "heard", "answer", "said")}
            yield page, played(browser), program, browser
    finally:
        program.end()


def test_a_reading_spoken_into_the_browser_is_on_the_page(spoken):
    page = spoken[0]
    assert (page["of"], page["amount"], page["word"]) == ("1 top", "3.5", "FILE")
    assert page["heard"] == "cylinder one top fourteen and a half thou"
    assert page["answer"] == page["said"] == "One top, fourteen and a half. File three and a half."


def test_it_is_in_the_journal(spoken):
    with Journal.open(spoken[2].journal, read_only=True) as journal:
        entries = fold(load_plan(PLAN), journal.events()).log()
    assert [str(entry.value) for entry in entries] == ["14.5 thou"]


def test_the_answer_that_the_browser_plays_is_recognised_again(spoken):
    page, sounds, _, _ = spoken
    words = [each for each in sounds if len(each) > SAMPLERATE_HZ][-1]  # after its tone
    with EngineVoice() as voice:
        counts, missed = judged([Answer(page["answer"], words)], used_to(voice, 60))
    assert counts["digital silence"][LISTENERS[1]] == 1, missed


def test_the_page_reports_no_fault(spoken):
    assert [line for line in spoken[3].log() if not line.startswith("INFO")] == []
