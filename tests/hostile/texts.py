"""Key files and lists that no person would write."""

from __future__ import annotations

import random

from handsfree.understand import WORD_KEYS

LINES = (
    *(
        "16 Enter",
        "3*1*15 Enter",
        "16.75 Enter",
        "/17 Enter",
        "18+19- Enter",
        "0* Enter",
        "+ Enter",
        "- Enter",
    ),
    *(
        "Num Lock",
        "Enter",
        "Enter " * 50,
        "9" * 5000 + " Enter",
        "1*" * 3000 + "18 Enter",
        "." * 4000 + "Enter",
    ),
    *(
        "1..8 Enter",
        "0 Enter",
        "0.00000 Enter",
        "9999.99999 Enter",
        ".* Enter",
        ".*99 Enter",
        "99*99*99 Enter",
    ),
    *("# a remark", "16", "", " ", "\t16\tEnter", "16 enter", "numlock", "\uff11\uff18 Enter", "² Enter"),
    "٣ Enter",
    *(
        "16 Return",
        "a" * 5000,
        "\u202e16 Enter",
        "16\u2028Enter",
        "\x1b[2J",
        "\x0c16 Enter",
        "4/ Enter",
        "-18 Enter",
    ),
)
NAMES = (
    *(
        "02-michael.ogg",
        "09-keypad.keys",
        "none.wav",
        ".",
        "..",
        "/",
        "/dev/zero",
        "/dev/null",
        "/proc/self/mem",
    ),
    *(
        "a" * 5000,
        "a/" * 3000 + "b.keys",
        "@list.txt",
        "#remark",
        " ",
        "odd\x1b[2J.wav",
        "odd\u202e.wav",
        "~",
    ),
    *(
        "%s%n",
        "\ufeffx.keys",
        "x.KEYS",
        "con",
        "file://x.wav",
        "-",
        "--json",
        "a\tb.wav",
        "pipe.keys",
        "zero.keys",
    ),
)


def odd_keys(random_: random.Random) -> bytes:
    """Return the content of a key file."""
    lines = [random_.choice(LINES) for _ in range(random_.randint(0, 12))]
    words = sorted(WORD_KEYS)
    lines += [f"{random_.choice(words)} Enter" for _ in range(random_.randint(0, 4))]
    random_.shuffle(lines)
    return odd_text(random_, lines)


def odd_list(random_: random.Random) -> bytes:
    """Return the content of a list of files."""
    return odd_text(random_, [random_.choice(NAMES) for _ in range(random_.randint(0, 8))])


def odd_text(random_: random.Random, lines: list[str]) -> bytes:
    """Return lines as an editor somewhere would save them, or as none would."""
    text = random_.choice(["\n", "\n", "\r\n", "\r"]).join(lines) + random_.choice(["", "\n"])
    encoding = random_.choice(["utf-8", "utf-8", "utf-8", "utf-8-sig", "utf-16", "utf-16-le", "latin-1"])
    data = text.encode(encoding, "replace")
    match random_.randrange(8):
        case 0:
            data = data[: random_.randrange(len(data) + 1)]
        case 1:
            at = random_.randrange(len(data) + 1)
            data = data[:at] + random_.choice([b"\0", b"\xff\xfe", b"\x80", b"\xed\xa0\x80"]) + data[at:]
        case 2:
            data *= random_.choice([2, 20])
    return data
