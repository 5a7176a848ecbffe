"""Feed the program what nobody should: ``python -m tests.hostile.campaign --plans 1000 --sounds 500``.

Every case is made from its seed and number alone, so ``--plans 1 --first 417`` runs case 417 again.
The exit status is 1 if any case ends with another status than 0 or 2, without a clear sentence, or
takes more than 5 s of the processor or 500 MB.
"""

from __future__ import annotations

import argparse
import os
import random
import shutil
import sys
import tempfile
from collections.abc import Callable, Iterator
from contextlib import suppress
from pathlib import Path

from tests.hostile.child import Outcome, run
from tests.hostile.lines import odd_line
from tests.hostile.plans import odd_plan
from tests.hostile.sounds import odd_sound
from tests.hostile.texts import odd_keys, odd_list
from tests.support.program import PLAN, RECORDINGS

PLAN_COMMANDS = (["card"], ["plan", "show"], ["plan", "check"], ["replay"])
KEPT = 40
"""Lines of output that are shown of a case that failed."""


def plan_case(random_: random.Random, folder: Path) -> list[str]:
    """Write a plan, and give a command that reads it."""
    (folder / "odd.toml").write_bytes(odd_plan(random_))
    (folder / "some.keys").write_text("1*1*16 Enter\n18 Enter\n", "utf-8")
    command = random_.choice(PLAN_COMMANDS)
    return [*command, "odd.toml", *(["some.keys"] if command == ["replay"] else [])]


def sound_case(random_: random.Random, folder: Path) -> list[str]:
    """Write a recording, and give a command that hears it."""
    ending, data = odd_sound(random_)
    shutil.copy(PLAN, folder / "plan.toml")
    (folder / f"odd{ending}").write_bytes(data)
    return ["hear", "plan.toml", f"odd{ending}", "--json"]


def text_case(random_: random.Random, folder: Path) -> list[str]:
    """Write a key file or a list, and give a command that takes it."""
    shutil.copy(PLAN, folder / "plan.toml")
    os.mkfifo(folder / "pipe.keys")
    (folder / "zero.keys").symlink_to("/dev/zero")
    for name in ("02-michael.ogg", "09-keypad.keys"):
        shutil.copy(RECORDINGS / name, folder / name)
    if random_.random() < 0.5:
        (folder / "odd.keys").write_bytes(odd_keys(random_))
        return ["replay", "plan.toml", "odd.keys", *random_.choice([[], ["--json"]])]
    (folder / "list.txt").write_bytes(odd_list(random_))
    return [random_.choice(["replay", "hear"]), "plan.toml", "@list.txt"]


def line_case(random_: random.Random, folder: Path) -> list[str]:
    """Lay out files to name, and give a command line."""
    furnish(folder)
    return odd_line(random_)


def furnish(folder: Path) -> None:
    """Lay out a folder with a plan, a journal, recordings, and names that lead nowhere good."""
    from handsfree.cli import main

    text = PLAN.read_bytes()
    (folder / "plan.toml").write_bytes(text)
    (folder / "bom.toml").write_bytes(b"\xef\xbb\xbf" + text.replace(b"\n", b"\r\n"))
    (folder / "some.keys").write_text("1*1*16 Enter\n18 Enter\n", "utf-8")
    (folder / "list.txt").write_text("some.keys\nnone.wav\n", "utf-8")
    (folder / "junk.bin").write_bytes(random.Random(1).randbytes(5000))
    (folder / "empty").mkdir()
    (folder / "empty.journal").touch()
    (folder / "loop").symlink_to("loop")
    os.mkfifo(folder / "pipe")
    with suppress(OSError):
        (folder / os.fsdecode(b"bad\xe9.keys")).write_text("16 Enter\n", "utf-8")
    sounds = folder / "sounds"
    sounds.mkdir()
    shutil.copy(RECORDINGS / "02-michael.ogg", sounds / "a.ogg")
    (sounds / "manifest.csv").write_text(
        "file,voice,kind,text,cylinder,ring,value,unit\na.ogg,me,bare,sixteen thou,,,16,thou\n", "utf-8"
    )
    made = _journal(main)
    shutil.copy(made, folder / "s.journal")


_made: list[Path] = []


def _journal(main: Callable[[list[str]], int]) -> Path:
    """Make a journal once, and give where it is."""
    if not _made:
        folder = Path(tempfile.mkdtemp(prefix="hostile-"))
        (folder / "some.keys").write_text("1*1*16 Enter\n18 Enter\n", "utf-8")
        child = os.fork()
        if child == 0:
            os.dup2(os.open(os.devnull, os.O_WRONLY), 1)
            here = str(folder / "s.journal")
            os._exit(main(["replay", str(PLAN), str(folder / "some.keys"), "--journal", here]))
        os.waitpid(child, 0)
        _made.append(folder / "s.journal")
    return _made[0]


KINDS: dict[str, Callable[[random.Random, Path], list[str]]] = {
    "plans": plan_case,
    "sounds": sound_case,
    "texts": text_case,
    "lines": line_case,
}


def campaign(kind: str, first: int, count: int, seed: int) -> Iterator[tuple[int, list[str], Outcome]]:
    """Run cases of one kind; each has a folder of its own, which is taken away."""
    for number in range(first, first + count):
        with tempfile.TemporaryDirectory(prefix="hostile-", ignore_cleanup_errors=True) as at:
            folder = Path(at) / "case"
            folder.mkdir()
            arguments = KINDS[kind](random.Random(f"{seed} {kind} {number}"), folder)
            yield number, arguments, run(arguments, folder)


def warm() -> None:
    """Import what most commands need, so that each fork has it."""
    import soundfile
    import soxr

    import handsfree.cli
    import handsfree.commands.export
    import handsfree.commands.hear
    import handsfree.commands.replay
    import handsfree.planfile.build
    import handsfree.show.card
    from handsfree.planfile import load_plan

    del soundfile, soxr
    handsfree.show.card.phrase_card(load_plan(PLAN))


def main() -> int:
    """Run the campaigns that were asked for, tell each failure, and count."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawTextHelpFormatter)
    for kind in KINDS:
        parser.add_argument(f"--{kind}", type=int, default=0, metavar="N")
    parser.add_argument("--first", type=int, default=0, metavar="N", help="number of the first case")
    parser.add_argument("--seed", type=int, default=1)
    options = parser.parse_args()
    warm()
    failed = 0
    for kind in KINDS:
        slowest = most = 0.0
        statuses: dict[int, int] = {}
        for number, arguments, outcome in campaign(kind, options.first, getattr(options, kind), options.seed):
            slowest, most = max(slowest, outcome.cpu_s), max(most, outcome.peak_mb)
            statuses[outcome.status] = statuses.get(outcome.status, 0) + 1
            complaint = outcome.complaint
            if outcome.status == 1 and arguments[:2] == ["journal", "verify"]:
                complaint = None  # it found something altered, or not the hash that was asked for
            if complaint:
                failed += 1
                tail = "\n".join(ascii(line)[:300] for line in outcome.err.splitlines()[-KEPT:])
                line = ascii(arguments)[:400]
                print(f"{kind} {number}: {complaint} ({outcome.wall_s:.1f} s)\n  {line}\n{tail}", flush=True)
        if statuses:
            counts = ", ".join(f"{count} of status {status}" for status, count in sorted(statuses.items()))
            print(f"{kind}: {counts}; at most {slowest:.1f} s and {most:.0f} MB", flush=True)
    return 1 if failed else 0


if __name__ == "__main__":
    sys.exit(main())
