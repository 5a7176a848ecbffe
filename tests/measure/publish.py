"""Copy the tables of the benches, and the demo's session, into README.md.

    python -m tests.measure.publish            the tables, from the files that the benches wrote
    python -m tests.measure.publish --session  and the demo's session, by running the demo

In README.md a line `<!-- from FILE -->` begins a place that holds what is in FILE, and `<!-- end -->`
ends it.
"""

from __future__ import annotations

import argparse
import re
import subprocess
import sys
from pathlib import Path

ROOT = Path(__file__).parents[2]
README = ROOT / "README.md"
PLACE = re.compile(r"<!-- (from (?P<file>\S+)|session) -->\n.*?<!-- end -->\n", re.DOTALL)
NOT_YET = "Not measured yet."


def with_tables(readme: str, root: Path = ROOT) -> str:
    """Give the text with each table as its file has it now; one without a file isn't measured yet."""

    def fill(place: re.Match[str]) -> str:
        if not place["file"]:
            return place[0]
        path = root / place["file"]
        table = path.read_text("utf-8").strip() if path.exists() else NOT_YET
        return f"<!-- from {place['file']} -->\n{table}\n<!-- end -->\n"

    return PLACE.sub(fill, readme)


def with_session(readme: str, listing: str) -> str:
    """Give the text with the listing of a session."""

    def fill(place: re.Match[str]) -> str:
        return place[0] if place["file"] else f"<!-- session -->\n```text\n{listing}\n```\n<!-- end -->\n"

    return PLACE.sub(fill, readme)


def session_in(readme: str) -> str:
    """Give the listing of a session that the text holds."""
    found = next(place for place in PLACE.finditer(readme) if not place["file"])
    return found[0].split("```text\n")[1].split("\n```")[0]


def listing_of(printed: str) -> str:
    """Cut out of what the demo printed: the exchanges and the count."""
    lines = printed.splitlines()
    heads = [n for n, line in enumerate(lines) if re.match(r"\d\d-\w+\.(ogg|keys) ", line)]
    first, last = heads[0], next(n for n in range(heads[-1], len(lines)) if not lines[n])
    count = lines[next(n for n, line in enumerate(lines) if line.startswith("Readings right")) :]
    return "\n".join([*lines[first:last], "", *count])


def run_demo() -> str:
    """Run the demo and give what it printed."""
    done = subprocess.run(
        [sys.executable, ROOT / "demo" / "session.py"],
        capture_output=True,
        text=True,
        encoding="utf-8",
        check=False,
    )
    if done.returncode == 2:
        raise SystemExit(done.stderr)
    return done.stdout


def main() -> None:
    """Rewrite README.md."""
    parser = argparse.ArgumentParser(
        description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter
    )
    parser.add_argument("--session", action="store_true", help="run the demo and copy its session too")
    options = parser.parse_args()
    text = with_tables(README.read_text("utf-8"))
    if options.session:
        text = with_session(text, listing_of(run_demo()))
    README.write_text(text, "utf-8")


if __name__ == "__main__":
    main()
