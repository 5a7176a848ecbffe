"""Bring the pages up to date: tables and figures from the measuring scripts, sessions from the demo.

    python -m tests.measure.publish            what files hold
    python -m tests.measure.publish --session  and two sessions, by running them

In a page a line `<!-- from FILE -->`, `<!-- figures -->`, `<!-- session -->` or `<!-- first engine -->`
begins a part that is written here, and `<!-- end -->` ends it.
"""

from __future__ import annotations

import argparse
import json
import re
import subprocess
import sys
import tempfile
from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import Any

from tests.measure.results import ORIGIN

ROOT = Path(__file__).parents[2]
README = ROOT / "README.md"
PAGES = (README, ROOT / "docs" / "measured.md", ROOT / "docs" / "bench.md")
PART = re.compile(
    r"<!-- (?P<name>from (?P<file>\S+)|figures|session|first engine) -->\n(?P<held>.*?)<!-- end -->\n",
    re.DOTALL,
)
NOT_YET = "Not measured yet."
EXCHANGES = 8  # of the demo's session that the front page shows

# The first engine of the front page: answers to `plan new`, and what is said, with the keys for the same.
ANSWERS = {
    "plan_name": "Monday",
    "engine_name": "Bench four",
    "unit": "thou",
    "cylinders": "4",
    "bore": "4.030 in",
    "duty": "road",
    "acceptance": "simple",
    "top_gap": "18 thou",
    "second_gap": "20 thou",
    "gap_plus": "1.5 thou",
}
FIRST_ENGINE = (
    ("cylinder one top, sixteen thou", "1*1*16"),
    ("eighteen", "18"),
    ("correction, eighteen and a half", "/18.5"),
    ("disregard", "/"),
    ("what's left", ".."),
    ("finish", "0*"),
    ("affirm", "+"),
)


def with_files(page: str, root: Path = ROOT) -> str:
    """Return the page with tables as their files have them, and figures as the results have them."""

    def fill(part: re.Match[str]) -> str:
        if part["name"] == "figures":
            return _part("figures", figures(root / "tests" / "measure"))
        if not part["file"]:
            return part[0]
        path = root / part["file"]
        text = path.read_text("utf-8").strip("\n") if path.exists() else NOT_YET
        return _part(part["name"], f"```text\n{text}\n```" if path.suffix == ".txt" else text)

    return PART.sub(fill, page)


def with_sessions(page: str, sessions: Mapping[str, str]) -> str:
    """Return the page with these listings in the parts of their names."""

    def fill(part: re.Match[str]) -> str:
        listing = sessions.get(part["name"])
        return part[0] if listing is None else _part(part["name"], f"```text\n{listing}\n```")

    return PART.sub(fill, page)


def listing_in(page: str, name: str) -> str:
    """Return the listing that the page has in the part of this name."""
    held = next(part["held"] for part in PART.finditer(page) if part["name"] == name)
    return held.split("```text\n")[1].split("\n```")[0]


def figures(measured: Path) -> str:
    """Return the five figures of the front page as Markdown, each with the date of its table."""

    def results(name: str) -> Any:
        return json.loads((measured / f"{name}.json").read_text("utf-8"))

    def date(name: str) -> str:
        found = ORIGIN.search((measured / f"{name}.md").read_text("utf-8"))
        return found["date"] if found else "date unknown"

    commands = results("accuracy")["recognisers"]["embedded"]["by_noise"]
    numbers = [each for each in results("speakers") if each["encoder"] == "shipped"]
    talk, wait, heard = results("chatter"), results("latency"), results("understood")
    answers = heard["understood"]["pink noise 30 dB below"]["one used to the voice"]
    minutes = sum(each["minutes"] for each in talk)
    rows = (
        (
            "commands by synthetic voices kept for judging: logged right (wrong)",
            _quiet_and_noise(commands["none"], [commands[each] for each in commands if "10 dB" in each]),
            "accuracy",
        ),
        (
            "number strings of ten people whom nothing was chosen by: accepted right (wrong)",
            _quiet_and_noise(
                next(each for each in numbers if each["snr_db"] is None),
                [each for each in numbers if each["snr_db"] == 10],
            ),
            "speakers",
        ),
        (
            "talk that isn't for the bench: readings logged",
            f"{sum(each['readings'] for each in talk)} in {minutes:.0f} minutes",
            "chatter",
        ),
        (
            "from your last sound to its answer, on two cores",
            f"{wait['p50_ms'] / 1000:.1f} s; 95 % within {wait['p95_ms'] / 1000:.1f} s",
            "latency",
        ),
        (
            "spoken answers whose numbers a listener who knows the voice (a program) got right",
            f"{answers} of {heard['answers']}",
            "understood",
        ),
    )
    lines = ["| what | figure | measured |", "| --- | --- | --- |"]
    return "\n".join([*lines, *(f"| {what} | {figure} | {date(name)} |" for what, figure, name in rows)])


def _quiet_and_noise(quiet: Mapping[str, int], noises: Sequence[Mapping[str, int]]) -> str:
    def share(results: Sequence[Mapping[str, int]]) -> str:
        count = sum(each.get("total", each.get("count", 0)) for each in results)
        right, wrong = (100 * sum(each[part] for each in results) / count for part in ("right", "wrong"))
        return f"{right:.0f} % ({wrong:.1f} %)"

    return f"quiet {share([quiet])}; {len(noises)} noises at 10 dB {share(noises)}"


def listing_of(printed: str, exchanges: int = EXCHANGES) -> str:
    """Cut the first exchanges and the count out of the demo's output."""
    lines = printed.splitlines()
    heads = [n for n, line in enumerate(lines) if re.match(r"\d\d-\w+\.(ogg|keys) ", line)]
    count = lines[next(n for n, line in enumerate(lines) if line.startswith("Readings right")) :]
    return "\n".join([*lines[heads[0] : heads[exchanges]], "...", *count])


def run_demo() -> str:
    """Run the demo and return its output."""
    return _ran(sys.executable, str(ROOT / "demo" / "session.py"))


def first_engine() -> str:
    """Make the plan of the first engine, key what is said there, and return both sides of the talk."""
    program = (sys.executable, "-m", "handsfree.cli")
    with tempfile.TemporaryDirectory() as folder:
        plan = f"{folder}/monday.toml"
        given = [part for key, answer in ANSWERS.items() for part in ("--answer", f"{key}={answer}")]
        _ran(*program, "plan", "new", "ring gaps", "--out", plan, *given)
        bench = ["--plain", "--no-microphone", "--silent", "--journal", f"{folder}/monday.journal"]
        keyed = "".join(f"{keys}\n" for _, keys in FIRST_ENGINE)
        return talk_of(_ran(*program, "bench", plan, *bench, entries=keyed))


def talk_of(printed: str) -> str:
    """Write what is said in the first engine beside the answers of a bench that was keyed the same."""
    answers = re.findall(r"^keyed: .*\nanswer: (.*)$", printed, re.MULTILINE)
    said = [f'you     "{words}" ({keys})' for words, keys in FIRST_ENGINE]
    return "\n".join(f"{words}\nanswer  {answer}" for words, answer in zip(said, answers, strict=True))


def _ran(*command: str, entries: str | None = None) -> str:
    done = subprocess.run(
        command, input=entries, capture_output=True, text=True, encoding="utf-8", cwd=ROOT, check=False
    )
    if done.returncode == 2:
        raise SystemExit(done.stderr)
    return done.stdout


def _part(name: str, text: str) -> str:
    return f"<!-- {name} -->\n{text}\n<!-- end -->\n"


def main() -> None:
    """Rewrite the pages."""
    parser = argparse.ArgumentParser(
        description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter
    )
    parser.add_argument("--session", action="store_true", help="run the sessions and copy them, too")
    options = parser.parse_args()
    listings = {"session": listing_of(run_demo()), "first engine": first_engine()} if options.session else {}
    for page in PAGES:
        page.write_text(with_sessions(with_files(page.read_text("utf-8")), listings), "utf-8")


if __name__ == "__main__":
    main()
