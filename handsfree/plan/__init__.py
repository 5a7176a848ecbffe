"""What is to be measured and to what: plan files, positions, targets."""

from handsfree.plan.check import PART, Axis, Check, Part, Rule
from handsfree.plan.load import FORMAT, load_plan, parse_plan
from handsfree.plan.plan import Engine, Plan
from handsfree.plan.position import Position
from handsfree.plan.target import Target

__all__ = [
    "FORMAT",
    "PART",
    "Axis",
    "Check",
    "Engine",
    "Part",
    "Plan",
    "Position",
    "Rule",
    "Target",
    "load_plan",
    "parse_plan",
]
