"""Benches at work, for the display's tests."""

from datetime import datetime
from pathlib import Path

from handsfree.bench import Bench
from handsfree.journal import Journal
from handsfree.live import Ears, LiveState
from handsfree.planfile import load_plan
from handsfree.show import bench_view

PLAN = load_plan(Path(__file__).parents[2] / "demo" / "plan.toml")
NOW = datetime(2026, 11, 25, 14, 5)


def view_after(*entries, plan=PLAN, **state):
    """The view after some keypad entries."""
    bench = Bench(plan, Journal.in_memory())
    answer = bench.open().reply.text
    heard = ""
    for entry in entries:
        exchange = bench.key(entry)
        answer, heard = exchange.reply.text, exchange.words
    facts = {"ears": Ears.LISTENING, "level_db": -40, "floor_db": -58, "device": "cup"}
    live = LiveState(**(facts | {"heard": heard, "answer": answer} | state))
    return bench_view(bench.session, live, NOW)
