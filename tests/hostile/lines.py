"""Command lines that no person would type, through every command."""

from __future__ import annotations

import random

FILES = {
    "plan": ("plan.toml", "bom.toml"),
    "journal": ("s.journal",),
    "keys": ("some.keys", "plan.toml"),
    "folder": ("sounds", "."),
    "sound": ("sounds/a.ogg", "some.keys", "@list.txt"),
}
ODD_FILES = (
    *(
        "",
        " ",
        ".",
        "..",
        "/",
        "none",
        "-",
        "--",
        "@",
        "@none",
        "@/dev/zero",
        "/dev/zero",
        "/dev/null",
        "pipe",
    ),
    *(
        "/dev/full",
        "/proc/self/mem",
        "/proc/self/environ",
        "a" * 5000,
        "a/" * 3000,
        "bad\udce9.keys",
        "\udcff",
    ),
    *(
        "odd\x1b[2Jname",
        "line\nbreak",
        "\u202e",
        "junk.bin",
        "some.keys",
        "plan.toml",
        "s.journal",
        "loop",
        "*",
    ),
    *(
        "shut",
        "shut/x.toml",
        "plan.toml/x",
        "sounds/a.ogg",
        "~",
        "$HOME",
        "%s",
        "sounds",
        "empty",
        "empty.journal",
    ),
)
ODD_WORDS = (
    *(
        "",
        " ",
        "-",
        "0",
        "-1",
        "1",
        "9" * 5000,
        "1e400",
        "nan",
        "inf",
        "-inf",
        "0.5",
        "true",
        "none",
        "\udcff",
    ),
    *(
        "x" * 5000,
        "\x1b[31m",
        "a\nb",
        "ring gaps",
        "\u202e",
        "\uff11",
        "²",
        "1_0",
        "0x10",
        "2026-11-30",
        "0000-00-00",
    ),
    *(
        "9999-12-31",
        "pink",
        "csv",
        "--json",
        "=",
        "a=b",
        "=b",
        "cylinders=" + "9" * 5000,
        "'; --",
        "127.0.0.1:0",
    ),
    *(
        "host:" + "9" * 5000,
        "[::1]:99999",
        ":²",
        "::",
        "1e-400",
        "1e308",
        "1,5",
        "packaged",
        "phrase",
        "terse",
    ),
)
PLAIN = "file", "word"

# The command's words, its arguments, its options with what each takes ("" takes nothing). Left out: what
# would use a microphone or a loudspeaker, and what would fetch something.
COMMANDS: tuple[tuple[tuple[str, ...], tuple[str, ...], dict[str, str]], ...] = (
    (("card",), ("plan",), {}),
    (("plan", "show"), ("plan",), {}),
    (("plan", "check"), ("plan",), {}),
    (("plan", "share"), ("journal",), {}),
    (
        ("plan", "new"),
        ("word",),
        {"--list": "", "--own": "file", "--answer": "word", "--answers": "file", "--out": "new"},
    ),
    (
        ("replay",),
        ("plan", "keys", "sound"),
        {"--journal": "new", "--who": "word", "--no-sounds": "", "--json": "", "--recogniser": "word"}
        | {"--model": "file", "--encoder": "file", "--no-adapt": ""},
    ),
    (
        ("hear",),
        ("plan", "sound"),
        {"--check": "word", "--json": "", "--recogniser": "word", "--model": "file", "--encoder": "file"},
    ),
    (("export",), ("journal",), {"--to": "form", "--out": "new", "--paper": "word"}),
    (("journal", "list"), ("journal", "folder"), {"--engine": "word", "--since": "word", "--until": "word"}),
    (("journal", "show"), ("journal",), {"--log": ""}),
    (("journal", "compare"), ("journal", "journal"), {}),
    (
        ("journal", "stats"),
        ("journal",),
        {"--check": "word", "--engine": "word", "--confidence": "word", "--plot": "new"},
    ),
    (("journal", "verify"), ("journal",), {"--hash": "word"}),
    (("journal", "play"), ("journal", "word"), {"--out": "new"}),
    (("share",), ("word", "journal"), {"--check": "", "--bench": "word"}),
    (
        ("score",),
        ("folder",),
        {"--plan": "plan", "--check": "word", "--noise": "word", "--snr": "word", "--voice": "word"}
        | {"--every": "word", "--seed": "word", "--json": "", "--encoder": "file"},
    ),
    (
        ("rehearse",),
        ("plan",),
        {"--check": "word", "--to": "new", "--count": "word", "--seed": "word", "--voice": "word"},
    ),
    (
        ("adapt",),
        (),
        {"--from": "folder", "--voice": "word", "--show": "", "--undo": "", "--encoder": "file"},
    ),
    (("models", "list"), (), {}),
    (
        ("bench",),
        ("plan",),
        {"--journal": "new", "--rate": "word", "--volume": "word", "--answers": "word", "--web": "word"}
        | {"--timings": "file", "--who": "word", "--device": "word"},
    ),
)
ALWAYS = {
    "rehearse": ("--from", "sounds"),
    "bench": ("--plain", "--silent", "--no-microphone", "--web", "nowhere"),  # or it would wait for a person
    "journal play": ("--out", "played.flac"),
}


def odd_line(random_: random.Random) -> list[str]:
    """Return the words of a command line, wrong in one or several ways, or only odd."""
    words, arguments, options = random_.choice(COMMANDS)
    given = [_value(random_, kind) for kind in arguments]
    for _ in range(random_.choice([0, 1, 1, 2, 4])):
        if options:
            name = random_.choice(sorted(options))
            given += [name, *([_value(random_, options[name])] if options[name] else [])]
    line = [*words, *given]
    match random_.randrange(10):
        case 0:
            line.insert(
                random_.randrange(1, len(line) + 1), random_.choice([*ODD_WORDS, "--polish", "-x", "--"])
            )
        case 1:
            del line[random_.randrange(len(line))]
        case 2:
            line.append(random_.choice(["--help", "--version", "--out", "--to", "--json=1"]))
        case 3:
            line += [random_.choice(ODD_FILES)] * random_.choice([1, 300])
    # A command that lost its name may have become another, and none may wait for a device.
    return [*line, *ALWAYS.get(" ".join(line[:2]), ALWAYS.get(line[0] if line else "", ()))]


def _value(random_: random.Random, kind: str) -> str:
    odd = random_.random() < 0.4
    if kind == "word":
        return random_.choice(ODD_WORDS)
    if kind == "form":
        return random_.choice(["csv", "json", "xlsx", "pdf"] if not odd else ODD_WORDS)
    if kind == "new":
        return random_.choice(["new.out", "new.pdf", "none/new.out"] if not odd else ODD_FILES)
    return random_.choice(ODD_FILES if odd or kind == "file" else FILES[kind])
