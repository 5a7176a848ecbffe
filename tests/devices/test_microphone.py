"""The microphone: sound from a child that may stall, lie and come back."""

import queue
import sys
import textwrap
import time

import numpy as np
import pytest

from handsfree.devices import Frame, Microphone, MicrophoneFound, MicrophoneLost, Overflow, microphone
from handsfree.devices.microphone_child import Capsule


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
        events = queue.SimpleQueue()
        ears = Microphone(events.put, command=[sys.executable, str(script)])
        opened.append(ears)
        ears.start()

        def until(kind):
            deadline = time.monotonic() + 20
            seen = []
            while time.monotonic() < deadline:
                seen.append(events.get(timeout=60))
                if isinstance(seen[-1], kind):
                    return seen[-1], seen
            raise AssertionError(f"no {kind.__name__} among {seen}")

        return until

    yield make
    for ears in opened:
        ears.stop()


def test_sound_comes_at_16_khz_whatever_the_device_gives(listen):
    until = listen("parent.send({'ready': 48000, 'device': 'cup'})\nwhile True: sound(960)")
    found, before = until(MicrophoneFound)
    assert (found, before) == (MicrophoneFound("cup", 48_000, again=False), [found])
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
    until(MicrophoneFound)
    lost, _ = until(MicrophoneLost)
    assert lost.why == "unplugged"
    found, between = until(MicrophoneFound)
    assert found == MicrophoneFound("another", 44_100, again=True)
    assert between == [found]  # told once, not at every try


def test_no_microphone_at_all_is_lost_once(listen):
    until = listen("parent.send({'error': 'no such device'}); time.sleep(0.05); os._exit(1)")
    assert until(MicrophoneLost)[0].why == "no such device"
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
    assert listen(body)(MicrophoneLost)[0].why


def test_overflow_is_told_in_its_place(listen):
    until = listen("parent.send({'ready': 16000}); sound(); sound(lost=1); sound()\nwhile True: sound()")
    _, before = until(Overflow)
    assert sum(isinstance(each, Frame) for each in before) == 1


def test_stop_ends_the_child(listen, tmp_path):
    events = queue.SimpleQueue()
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


def test_frames_may_be_longer_while_nobody_speaks(tmp_path):
    script = tmp_path / "told.py"
    script.write_text(
        textwrap.dedent(
            """
            import array, time
            from handsfree.child import Parent
            parent = Parent()
            parent.send({"ready": 16000, "device": "cup"})
            n = 1
            while True:
                message = parent.receive(0.01)
                n = (4 if message[0]["calm"] else 1) if message else n
                parent.send({"at": time.monotonic(), "lost": 0}, array.array("h", [0] * 512 * n).tobytes())
            """
        ),
        encoding="utf-8",
    )
    events = queue.SimpleQueue()

    def wait_for(count):
        while True:
            event = events.get(timeout=60)
            if isinstance(event, Frame) and len(event.samples) == count:
                return

    with Microphone(events.put, command=[sys.executable, str(script)]) as ears:
        for calm, count in ((False, 512), (True, 2048), (True, 2048), (False, 512)):
            ears.relax(calm)
            wait_for(count)


class Times:
    """The device's clock, as PortAudio gives it."""

    currentTime = 1.0  # noqa: N815
    inputBufferAdcTime = 0.99  # noqa: N815


class Status:
    input_overflow = False


def capsule_without_a_device():
    capsule = Capsule.__new__(Capsule)
    capsule.pieces, capsule._blocks, capsule._overflows, capsule.calm = queue.SimpleQueue(), [], 0, False
    capsule._stream = Times()
    capsule._stream.samplerate = 16_000
    return capsule


def lengths(capsule):
    return [len(capsule.pieces.get()[0]) for _ in range(capsule.pieces.qsize())]


def test_pieces_hold_whole_steps_of_32_ms_whenever_calm_begins_and_ends():
    """The listener takes 512 samples at a time: what is left over would wait for the next piece."""
    block = bytes(2 * 128)  # 8 ms
    for change in range(40):
        capsule = capsule_without_a_device()
        for n in range(40):
            capsule.calm = n >= change
            capsule._take(block, 128, Times, Status)
        for _ in range(4):
            capsule.calm = False
            capsule._take(block, 128, Times, Status)
        found = lengths(capsule)
        assert not [length for length in found if length % 1024]
        assert max(found) <= 4096
        assert sum(found) + len(capsule._blocks) * 256 == 44 * 256
        assert len(capsule._blocks) < 4


def test_pieces_that_nobody_takes_are_lost_and_that_is_told():
    capsule = capsule_without_a_device()
    for _ in range(4 * 140):
        capsule._take(bytes(256), 128, Times, Status)
    kept = [capsule.pieces.get()[2] for _ in range(capsule.pieces.qsize())]
    assert (len(kept), sum(kept)) == (125, 0)
    for _ in range(4):
        capsule._take(bytes(256), 128, Times, Status)
    assert capsule.pieces.get()[2] == 15


def test_first_channel_of_several_is_taken():
    capsule = Capsule.__new__(Capsule)
    capsule.channels = 2
    pairs = np.array([[1, 100], [2, 200], [3, 300]], dtype="<i2")
    assert np.array_equal(np.frombuffer(capsule.mono(pairs.tobytes()), dtype="<i2"), [1, 2, 3])
