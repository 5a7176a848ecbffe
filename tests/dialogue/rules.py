"""Plans with one rule each, and benches to talk to about them."""

from __future__ import annotations

from handsfree.journal import Journal
from handsfree.plan import Plan
from handsfree.planfile import parse_plan
from tests.dialogue.talk import Clock, Talk

HEAD = """
format = 1
name = "Rules"
[engine]
name = "Bench four"
"""
BEARINGS = """
[[instrument]]
name = "bore gauge"
standard = "0.1 thou"
[[check]]
name = "main bearings"
rule = "difference"
unit = "thou"
formula = "housing - 2 shell - journal"
instrument = "bore gauge"
[check.axes]
main = 2
[[check.part]]
name = "housing"
nominal = "2.2250 in"
[[check.part]]
name = "shell"
nominal = "61.2 thou"
[[check.part]]
name = "journal"
nominal = "2.1000 in"
[[check.target]]
lower = "1 thou"
upper = "3 thou"
"""
LASH = """
[[check]]
name = "valve lash"
rule = "shim"
unit = "mm"
[check.axes]
cylinder = 2
[[check.part]]
name = "shim"
nominal = "2.60 mm"
[[check.part]]
name = "lash"
window = ["0.02 mm", "0.95 mm"]
[check.shims]
least = "2.00 mm"
most = "3.20 mm"
step = "0.05 mm"
[[check.target]]
lower = "0.10 mm"
upper = "0.16 mm"
"""
GAPS = """
[[check]]
name = "ring gaps"
rule = "file to gap"
unit = "thou"
order = "ring by ring"
[check.axes]
cylinder = 4
ring = ["top", "second"]
[[check.target]]
aim = "18 thou"
plus = "1.5 thou"
"""


def talk(*parts: str, engine: str = "") -> Talk:
    head = HEAD.rstrip() + f"\n{engine}\n" if engine else HEAD
    return Talk(plan_of(head + "".join(parts)), Journal.in_memory(clock=Clock()))


_PLANS: dict[str, Plan] = {}


def plan_of(text: str) -> Plan:
    return _PLANS.setdefault(text, parse_plan(text))


def said(bench: Talk, *phrases: str) -> list[str]:
    return [bench.say(words).reply.text for words in phrases]


def verdicts(bench: Talk) -> list[str | None]:
    return [entry.event.draft.verdict for entry in bench.session.log()]
