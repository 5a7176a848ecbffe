"""Share of rings that go over when filed as advised: ten thousand simulated rings in each of several shops.

    python -m tests.measure.filing                 prints the table; some minutes
    python -m tests.measure.filing --write         and writes tests/measure/filing.json and filing.md
    python -m tests.measure.filing --rings 1000    fewer rings

A ring begins at 4 to 15 thou and is filed to 18, with limits 18 to 19.5 or as said; a turn removes 0.05
to 0.5 thou, which nobody tells the program. Every reading has noise and is told in steps of a leaf. The
share of rings that truly end above the upper limit is to stay below the stated chance.
What this can't show is a real wheel: the spread of a pass is assumed, not measured in a shop.
"""

from __future__ import annotations

import argparse
import random
from dataclasses import asdict

from tests.judge.filing_bench import Outcome, Shop, file_rings
from tests.measure.results import keep

SHOPS = (
    Shop("steady hand, good leaves", pressure=0.05, leaf=0.1),
    Shop("usual", pressure=0.1, leaf=0.2),
    Shop("every ring learned anew", pressure=0.1, leaf=0.2, own=True),
    Shop("uneven pressure, worn leaves", pressure=0.25, leaf=0.25),
    Shop("same spread for any pass", stroke=0.3, leaf=0.15),
    Shop("rings differ by a fifth", pressure=0.1, leaf=0.2, spread=0.2),
    Shop("wheel that glazes, 3 % a pass", pressure=0.1, leaf=0.2, wear=0.03),
    Shop("narrow limits, 18 to 18.75", pressure=0.1, leaf=0.1, step=0.25, upper="18.75"),
)


def table(outcomes: dict[str, Outcome], rings: int, risk: float, seed: int) -> str:
    """Write the outcomes as a Markdown table."""
    lines = [
        f"{rings} simulated rings to a shop, stated chance of going over {risk:.0%}, seed {seed}:",
        "",
        "| shop | went over | passes to a ring | left to the hand |",
        "| --- | --- | --- | --- |",
    ]
    lines += [
        f"| {name} | {outcome.over:.2%} | {outcome.passes:.1f} | {outcome.by_hand:.1%} |"
        for name, outcome in outcomes.items()
    ]
    return "\n".join(lines) + "\n"


def main() -> None:
    """Run the simulation."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--rings", type=int, default=10_000)
    parser.add_argument("--risk", type=float, default=0.05)
    parser.add_argument("--seed", type=int, default=20261125)
    parser.add_argument("--write", action="store_true")
    asked = parser.parse_args()
    outcomes = {}
    for shop in SHOPS:
        outcomes[shop.name] = file_rings(shop, asked.rings, asked.risk, random.Random(asked.seed))
    text = table(outcomes, asked.rings, asked.risk, asked.seed)
    print(text)
    if asked.write:
        facts = {
            "rings": asked.rings,
            "risk": asked.risk,
            "seed": asked.seed,
            "shops": {shop.name: {**asdict(shop), **asdict(outcomes[shop.name])} for shop in SHOPS},
        }
        keep("filing", facts, text, ears=False)


if __name__ == "__main__":
    main()
