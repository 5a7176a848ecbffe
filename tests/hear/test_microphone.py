"""The microphone: sound from a child that may stall, lie and come back."""

import queue
import sys
import textwrap
import time

import numpy as np
import pytest

from handsfree.hear import microphone
from handsfree.hear.capsule import Capsule
from handsfree.hear.microphone import Found, Frame, Lost, Microphone, Overflow


@pytest.fixture
def listen(tmp_path, monkeypatch):
    """Listen to a child that is a script of our own; give a function that waits for an event."""
    monkeypatch.setattr(microphone, "_RETRY_S", (0.02,))
    monkeypatch.setattr(microphone, "_STALL_TIMEOUT_S", 1.0)
    opened = []

    def make(body):
        script = tmp_path / "capsule.py"
        script.write_text(
            textwrap.dedent(
                """
                import array, os, sys, time
                from handsfree.child import Parent
                starts = os.path.join(os.path.dirname(__file__), "starts")
                with open(starts, "a") as file:
                    file.write("x")
                start = os.path.getsize(starts)
                parent = Parent()
                def sound(n=160, lost=0):
                    samples = array.array("h", [1000] * n).tobytes()
                    parent.send({"at": time.monotonic(), "lost": lost}, samples)
                    time.sleep(0.005)
                """
            )
            + textwrap.dedent(body),
            encoding="utf-8",
        )
        events = queue.Queue()
        ears = Microphone(events.put, command=[sys.executable, str(script)])
        opened.append(ears)
        ears.start()

        def until(kind):
            deadline = time.monotonic() + 20
            seen = []
            while time.monotonic() < deadline:
                seen.append(events.get(timeout=20))
                if isinstance(seen[-1], kind):
                    return seen[-1], seen
            raise AssertionError(f"no {kind.__name__} among {seen}")

        return until

    yield make
    for ears in opened:
        ears.stop()


def test_sound_comes_at_16_khz_whatever_the_device_gives(listen):
    until = listen("parent.send({'ready': 48000, 'device': 'cup'})\nwhile True: sound(960)")
    found, before = until(Found)
    assert (found, before) == (Found("cup", 48_000, again=False), [found])
    count = sum(len(until(Frame)[0].samples) for _ in range(10))
    assert count == pytest.approx(10 * 320, abs=2)
    frame, _ = until(Frame)
    assert frame.samples.dtype == np.int16
    assert abs(frame.at_s - time.monotonic()) < 5


def test_device_that_fails_is_lost_once_and_found_again(listen):
    until = listen(
        """
        if start == 1:
            parent.send({"ready": 16000, "device": "cup"})
            sound(); sound()
            parent.send({"error": "unplugged"})
        elif start < 4:
            parent.send({"error": "no such device"})
        else:
            parent.send({"ready": 44100, "device": "another"})
            while True: sound()
        """
    )
    until(Found)
    lost, _ = until(Lost)
    assert lost.why == "unplugged"
    found, between = until(Found)
    assert found == Found("another", 44_100, again=True)
    assert between == [found]  # told once, not at every try


def test_no_microphone_at_all_is_lost_once(listen):
    until = listen("parent.send({'error': 'no such device'}); time.sleep(0.05); os._exit(1)")
    assert until(Lost)[0].why == "no such device"
    with pytest.raises(queue.Empty):
        until.__closure__[0].cell_contents.get(timeout=0.5)


@pytest.mark.parametrize(
    "body",
    [
        "time.sleep(60)",
        "os._exit(0)",
        "parent.send({'ready': 16000}); sound(); time.sleep(60)",
        "parent.send({'ready': 16000}); sound(); os._exit(0)",
        "parent.send({'ready': 16000}); parent.send({'weather': 'fine'})",
        "parent.send({'ready': 'often'}); time.sleep(60)",
    ],
)
def test_stall_death_and_nonsense_are_all_lost(listen, monkeypatch, body):
    monkeypatch.setattr(microphone, "_START_TIMEOUT_S", 1.0)
    assert listen(body)(Lost)[0].why


def test_overflow_is_told_in_its_place(listen):
    until = listen("parent.send({'ready': 16000}); sound(); sound(lost=1); sound()\nwhile True: sound()")
    _, before = until(Overflow)
    assert sum(isinstance(each, Frame) for each in before) == 1


def test_stop_ends_the_child(listen, tmp_path):
    events = queue.Queue()
    script = tmp_path / "quiet.py"
    script.write_text("import time\nfrom handsfree.child import Parent\nParent()\ntime.sleep(60)\n")
    ears = Microphone(events.put, command=[sys.executable, str(script)])
    ears.start()
    while ears._child is None:
        time.sleep(0.01)
    process = ears._child.process
    ears.stop()
    assert process.poll() is not None
    assert events.empty()


def test_first_channel_of_several_is_taken():
    capsule = Capsule.__new__(Capsule)
    capsule.channels = 2
    pairs = np.array([[1, 100], [2, 200], [3, 300]], dtype="<i2")
    assert np.array_equal(np.frombuffer(capsule.mono(pairs.tobytes()), dtype="<i2"), [1, 2, 3])
