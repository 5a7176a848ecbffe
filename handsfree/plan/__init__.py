"""What is to be measured and to what: plan files, templates, positions, targets, cautions."""

from handsfree.plan.cautions import Caution, cautions, cautions_for
from handsfree.plan.certainty import Acceptance, Certainty, Instrument, Stated
from handsfree.plan.check import PART, Axis, Check, Part, Rule, Share
from handsfree.plan.differing import differences
from handsfree.plan.hot import Hot, Material
from handsfree.plan.load import FORMAT, load_plan, parse_plan
from handsfree.plan.measured import BoreShape, bore_shape, measured_target
from handsfree.plan.plan import Engine, Plan, SecondRing
from handsfree.plan.position import Position
from handsfree.plan.target import Target
from handsfree.plan.template import Question, Sort, Template, load_template, parse_template, templates

__all__ = [
    "FORMAT",
    "PART",
    "Acceptance",
    "Axis",
    "BoreShape",
    "Caution",
    "Certainty",
    "Check",
    "Engine",
    "Hot",
    "Instrument",
    "Material",
    "Part",
    "Plan",
    "Position",
    "Question",
    "Rule",
    "SecondRing",
    "Share",
    "Sort",
    "Stated",
    "Target",
    "Template",
    "bore_shape",
    "cautions",
    "cautions_for",
    "differences",
    "load_plan",
    "load_template",
    "measured_target",
    "parse_plan",
    "parse_template",
    "templates",
]
