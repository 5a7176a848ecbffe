"""Key codes and names against the kernel's own and the HID Usage Tables."""

import re
import shutil
import subprocess

import pytest
from hidtools import hut

from handsfree.devices.keypad import EVDEV_KEYS, terminal_keys
from handsfree.understand import ENTER, WIPE

evdev = pytest.importorskip("evdev")

pytestmark = pytest.mark.quick

# Linux input-event-codes.h, by number (as the kernel's header has them; also in python-evdev).
KERNEL = {
    **dict(zip([82, 79, 80, 81, 75, 76, 77, 71, 72, 73], "0123456789", strict=True)),
    83: ".",
    78: "+",
    74: "-",
    55: "*",
    98: "/",
    96: ENTER,
    69: WIPE,
}

# HID Usage Tables 1.12, keyboard page (0x07): usage and name.
USAGES = {
    0x53: "Num Lock",
    0x54: "/",
    0x55: "*",
    0x56: "-",
    0x57: "+",
    0x58: "ENTER",
    **{0x58 + n: str(n) for n in range(1, 10)},
    0x62: "0",
    0x63: ".",
}


def test_kernel_codes_are_those_of_the_header():
    assert {getattr(evdev.ecodes, name): key for name, key in EVDEV_KEYS.items()} == KERNEL


def test_our_names_are_those_of_the_usage_tables():
    assert {name.upper() for name in USAGES.values()} == {key.upper() for key in EVDEV_KEYS.values()}


def test_usage_tables_agree_with_hid_tools():
    page = hut.HUT[0x07]
    for usage, name in USAGES.items():
        _, key, *_ = page[usage].name.upper().split()
        assert key == name.upper().split()[0], hex(usage)


def test_keys_of_application_mode_are_those_that_terminfo_names():
    """Capabilities kpADD and the like of ncurses' own description of xterm, as `infocmp -x` prints them."""
    if shutil.which("infocmp") is None:
        pytest.skip("infocmp isn't installed (Debian: ncurses-bin)")
    told = subprocess.run(["infocmp", "-x", "-1", "xterm"], capture_output=True, text=True, check=True).stdout
    named = dict(re.findall(r"(kp[A-Z]{3})=\\E(O.)", told))
    keys = {"kpADD": "+", "kpDIV": "/", "kpDOT": ".", "kpMUL": "*", "kpSUB": "-", "kpZRO": "0"}
    assert keys.keys() <= named.keys()
    for name, key in keys.items():
        assert list(terminal_keys(f"\x1b{named[name]}")) == [key], name
