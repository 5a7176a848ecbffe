"""The number pad: real evdev events from stand-in devices, and a real pseudo-terminal.

The kernel of the machine that tests run on may lack uinput, so the device itself is a stand-in: a
pipe that becomes readable, with events of the real `evdev` package, read by the real code.
"""

import os
import pty
import queue
import sys
import threading
import time
import types

import pytest

from handsfree.devices import KeypadFound, KeypadLost, KeyPressed, NumberPad, TerminalKeys
from handsfree.devices.keypad import Debounce, pressed_key, terminal_keys
from handsfree.understand import KEYS

evdev = pytest.importorskip("evdev")
codes = evdev.ecodes

pytestmark = pytest.mark.quick

PAD = [codes.KEY_NUMLOCK, codes.KEY_KPENTER, *(getattr(codes, f"KEY_KP{n}") for n in range(10))]


def event(code, value=1, at=0.0, kind=codes.EV_KEY):
    return evdev.InputEvent(int(at), int((at % 1) * 1_000_000), kind, code, value)


class Device:
    """A number pad whose events are put in by the test."""

    def __init__(self, name="pad", keys=PAD):
        self.name, self.keys = name, keys
        self.fd, self._ready = os.pipe()
        self._events = queue.SimpleQueue()
        self.grabbed = self.closed = False
        self.busy = self.gone = False

    def capabilities(self):
        return {codes.EV_KEY: list(self.keys)}

    def grab(self):
        if self.busy:
            raise OSError(16, "Device or resource busy")
        self.grabbed = True

    def ungrab(self):
        self.grabbed = False

    def close(self):
        self.closed = True

    def put(self, *events):
        self._events.put(events)
        os.write(self._ready, b"x")

    def unplug(self):
        self.gone = True
        os.write(self._ready, b"x")

    def read(self):
        os.read(self.fd, 1)
        if self.gone:
            raise OSError(19, "No such device")
        return self._events.get()


class Package:
    """The evdev package with devices of the test's own."""

    ecodes = codes

    def __init__(self, *devices):
        self.devices = list(devices)

    def list_devices(self):
        return [str(n) for n, device in enumerate(self.devices) if not device.gone]

    def InputDevice(self, path):  # noqa: N802 - evdev's name
        return self.devices[int(path)]


@pytest.fixture
def read():
    pads = []

    def start(*devices):
        package, events = Package(*devices), queue.SimpleQueue()
        pads.append(NumberPad(events.put, package, retry_s=0.02))
        pads[-1].start()
        return package, events

    yield start
    for pad in pads:
        pad.stop()


def test_presses_come_through_by_their_hid_names(read):
    pad = Device()
    _, events = read(pad)
    assert events.get(timeout=60) == KeypadFound("pad", again=False)
    assert pad.grabbed
    for n, code in enumerate([codes.KEY_KP1, codes.KEY_KP8, codes.KEY_KPENTER]):
        pad.put(event(code, 1, n), event(code, 0, n + 0.05))
    assert [events.get(timeout=60) for _ in range(3)] == [
        KeyPressed("1", "number pad"),
        KeyPressed("8", "number pad"),
        KeyPressed("Enter", "number pad"),
    ]
    assert events.empty()


def test_held_key_counts_once_and_a_bouncing_one_too(read):
    pad = Device()
    _, events = read(pad)
    events.get(timeout=60)
    pad.put(event(codes.KEY_KP5, 1, 1.0), *(event(codes.KEY_KP5, 2, 1.2 + n / 30) for n in range(20)))
    pad.put(event(codes.KEY_KP5, 0, 2.0), event(codes.KEY_KP5, 1, 2.01), event(codes.KEY_KP5, 0, 2.02))
    pad.put(event(codes.KEY_KP5, 1, 2.03), event(codes.KEY_KP5, 0, 2.1), event(codes.KEY_KPENTER, 1, 2.5))
    got = [events.get(timeout=60) for _ in range(3)]
    assert got == [
        KeyPressed("5", "number pad"),
        KeyPressed("5", "number pad"),
        KeyPressed("Enter", "number pad"),
    ]


def test_same_digit_twice_on_purpose_counts_twice(read):
    pad = Device()
    _, events = read(pad)
    events.get(timeout=60)
    pad.put(event(codes.KEY_KP2, 1, 1.0), event(codes.KEY_KP2, 0, 1.08), event(codes.KEY_KP2, 1, 1.2))
    assert [events.get(timeout=60) for _ in range(2)] == [KeyPressed("2", "number pad")] * 2


def test_unplugged_pad_is_lost_and_found_again_when_it_is_back(read):
    pad = Device()
    package, events = read(pad)
    events.get(timeout=60)
    pad.unplug()
    assert events.get(timeout=60) == KeypadLost("No such device")
    assert pad.closed
    package.devices.append(Device("pad again"))
    assert events.get(timeout=60) == KeypadFound("pad again", again=True)
    package.devices[1].put(event(codes.KEY_KPDOT, 1, 9.0))
    assert events.get(timeout=60) == KeyPressed(".", "number pad")


def test_whole_keyboard_is_never_grabbed(read):
    keyboard = Device("keyboard", [*PAD, codes.KEY_A])
    _, events = read(keyboard)
    time.sleep(0.1)
    assert events.empty()
    assert not keyboard.grabbed


def test_pad_that_another_program_holds_is_told_of(read):
    pad = Device()
    pad.busy = True
    _, events = read(pad)
    assert events.get(timeout=60) == KeypadLost("Device or resource busy")


def test_release_repeat_and_other_events_press_nothing():
    assert pressed_key(event(codes.KEY_KP5, 0), codes) is None
    assert pressed_key(event(codes.KEY_KP5, 2), codes) is None
    assert pressed_key(event(codes.KEY_A, 1), codes) is None
    assert pressed_key(event(codes.KEY_KP5, 1, kind=codes.EV_MSC), codes) is None


def test_every_key_of_the_grammar_is_on_the_pad():
    every = {pressed_key(event(code, 1), codes) for code in range(1, 240)} - {None}
    assert every == KEYS


def test_debounce_forgets_nothing_between_keys():
    bounce = Debounce(0.06)
    assert [bounce.passes("1", 0), bounce.passes("2", 0.01), bounce.passes("1", 0.02)] == [True, True, False]


@pytest.mark.parametrize(
    ("sent", "keys"),
    [
        ("18.5\r", "1 8 . 5 Enter"),
        ("18,5\n", "1 8 . 5 Enter"),
        ("3*1*18+-\r", "3 * 1 * 1 8 + - Enter"),
        ("1\x7f2\x08", "1 Backspace 2 Backspace"),
        ("\x1bOq\x1bOx\x1bOn\x1bOu\x1bOM", "1 8 . 5 Enter"),
        ("\x1b[A\x1b[1;5C7\x1b[3~8", "7 Backspace 8"),
        ("abc é\t", ""),
        ("\x1b", "NumLock"),
    ],
)
def test_terminal_sends_the_same_keys(sent, keys):
    assert "".join(terminal_keys(sent)).replace("Num Lock", "NumLock") == keys.replace(" ", "")


# xterm's control sequences, "VT220-style function keys": what the number pad sends in application mode,
# from memory; `tests/outside/test_key_names.py` has those that terminfo names.
APPLICATION = {**{"pqrstuvwxy"[n]: str(n) for n in range(10)}, **dict(zip("jkmnoM", "*+-./\r", strict=True))}


@pytest.mark.parametrize(("letter", "key"), sorted(APPLICATION.items()))
def test_every_key_of_application_mode_is_the_key_that_is_printed_on_it(letter, key):
    assert list(terminal_keys(f"\x1bO{letter}")) == list(terminal_keys(key))
    assert len(list(terminal_keys(key))) == 1


def test_keys_from_a_real_terminal_come_one_by_one_and_it_is_given_back():
    import termios

    ours, theirs = pty.openpty()
    before = termios.tcgetattr(theirs)
    events = queue.SimpleQueue()
    keys = TerminalKeys(events.put, theirs)
    keys.start()
    try:
        until = time.monotonic() + 10
        while termios.tcgetattr(theirs)[3] & termios.ICANON and time.monotonic() < until:
            time.sleep(0.01)  # until it reads key by key
        os.write(ours, b"18.5\r")
        assert [events.get(timeout=60).key for _ in range(5)] == ["1", "8", ".", "5", "Enter"]
    finally:
        keys.stop()
    assert termios.tcgetattr(theirs) == before
    os.close(ours)
    os.close(theirs)


def test_what_was_typed_before_the_terminal_was_read_is_not_lost():
    """A program takes a second or two to start, and people type ahead."""
    ours, theirs = pty.openpty()
    os.write(ours, b"3*1*18\r1")
    events, ended = queue.SimpleQueue(), []
    keys = TerminalKeys(events.put, theirs, ended=lambda: ended.append(True))
    keys.start()
    os.write(ours, b"9\r")
    try:
        found = [events.get(timeout=60) for _ in range(10)]
    finally:
        keys.stop()
    assert [event.key for event in found] == [*"3*1*18", "Enter", "1", "9", "Enter"]
    assert {event.source for event in found} == {"terminal"}
    assert ended == []
    os.close(ours)
    os.close(theirs)


def test_a_terminal_that_hangs_up_is_told():
    ours, theirs = pty.openpty()
    ended = queue.SimpleQueue()
    keys = TerminalKeys(lambda _: None, theirs, ended=lambda: ended.put(True))
    keys.start()
    os.close(ours)
    assert ended.get(timeout=60)
    keys.stop()
    os.close(theirs)


def piped(sent):
    """Give the keys of what a pipe brought, and what was known of them when its end was told."""
    reading, writing = os.pipe()
    events, ended = queue.SimpleQueue(), []
    keys = TerminalKeys(events.put, reading, ended=lambda: ended.append(keys.brought))
    keys.start()
    os.write(writing, sent)
    os.close(writing)
    keys._thread.join(timeout=60)
    keys.stop()
    os.close(reading)
    return [events.get().key for _ in range(events.qsize())], ended


@pytest.mark.parametrize(
    ("sent", "keys"),
    [
        (b"3*1*18\n19\n", [*"3*1*18", "Enter", *"19", "Enter"]),
        (b"18.5 Enter\r\n\n", [*"18.5", "Enter", "Enter"]),
        (b"18 Num Lock 19 enter  # 7 tries\n# 3 top\n", [*"18", "Num Lock", *"19", "Enter"]),
        (b"18\n19", [*"18", "Enter"]),  # never without Enter
        (b"\xef\xbb\xbf18\r\n19\n", [*"18", "Enter", *"19", "Enter"]),  # a pipe of PowerShell begins so
        (b"1x8\n", ["1", "x", "8", "Enter"]),  # refused as a whole: it is not 18
        (b"1\x1b8\n", ["1", "?", "8", "Enter"]),
        (b"", []),
        (b"\0" * 60_000, []),
    ],
)
def test_pipe_brings_entries_by_lines_as_a_key_file_has_them(sent, keys):
    found, ended = piped(sent)
    assert found == keys
    assert ended == [bool(keys)]  # told once, also of one that brought nothing


def test_no_more_is_read_of_a_pipe_while_many_keys_wait():
    reading, writing = os.pipe()
    os.set_blocking(writing, False)
    events = queue.SimpleQueue()
    keys = TerminalKeys(events.put, reading, waiting=events.qsize)
    keys.start()
    sent, until = 0, time.monotonic() + 2
    while time.monotonic() < until:
        try:
            sent += os.write(writing, b"1\n" * 100)
        except BlockingIOError:
            time.sleep(0.01)
    keys.stop()
    assert sent < 200_000
    assert events.qsize() < 2_000
    os.close(reading)
    os.close(writing)


def test_without_standard_input_there_are_no_keys(monkeypatch):
    monkeypatch.setattr("sys.stdin", None)
    with pytest.raises(OSError, match="no standard input"):
        TerminalKeys(print)


class Console:
    """Windows' console, as `msvcrt` reads it: a special key is two characters."""

    def __init__(self, typed):
        self.typed = list(typed)

    def kbhit(self):
        return bool(self.typed)

    def getwch(self):
        return self.typed.pop(0)


def test_keys_come_from_windows_console_one_by_one(monkeypatch):
    ours, theirs = pty.openpty()
    monkeypatch.setattr("handsfree.devices.keypad.sys", types.SimpleNamespace(platform="win32"))
    monkeypatch.setitem(sys.modules, "termios", None)
    monkeypatch.setitem(sys.modules, "msvcrt", Console("18,5\x08\xe0S\x00Hx+\r\x1b"))
    events = queue.SimpleQueue()
    keys = TerminalKeys(events.put, theirs)
    keys.start()
    wanted = ["1", "8", ".", "5", "Backspace", "Backspace", "other", "other", "+", "Enter", "Num Lock"]
    assert [events.get(timeout=10).key for _ in wanted] == wanted
    assert keys.is_terminal
    keys.stop()
    os.close(ours)
    os.close(theirs)


def test_ctrl_c_read_as_a_key_of_windows_console_interrupts(monkeypatch):
    ours, theirs = pty.openpty()
    monkeypatch.setattr("handsfree.devices.keypad.sys", types.SimpleNamespace(platform="win32"))
    monkeypatch.setitem(sys.modules, "msvcrt", Console("\x03"))
    interrupted = threading.Event()
    monkeypatch.setattr("_thread.interrupt_main", interrupted.set)
    keys = TerminalKeys(lambda _: None, theirs)
    keys.start()
    assert interrupted.wait(timeout=10)
    keys.stop()
    os.close(ours)
    os.close(theirs)
