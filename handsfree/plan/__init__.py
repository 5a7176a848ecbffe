"""The plan of measurements: checks, positions, targets, instruments, cautions."""

from handsfree.plan.assumptions import Acceptance, Certainty, Hot, Instrument, Material, Stated, materials
from handsfree.plan.check import PART, QUESTION, Axis, Check, Part, Position, Rule, Share
from handsfree.plan.measured import bore_shape, measured_target
from handsfree.plan.plan import Caution, Engine, Plan, SecondRing, cautions_for, differences
from handsfree.plan.target import OIL_RAILS, PI, STEPS, Recipe, RecipeError, Target, duties, least_rail_gap

__all__ = [
    "OIL_RAILS",
    "PART",
    "PI",
    "QUESTION",
    "STEPS",
    "Acceptance",
    "Axis",
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
    "Recipe",
    "RecipeError",
    "Rule",
    "SecondRing",
    "Share",
    "Stated",
    "Target",
    "bore_shape",
    "cautions_for",
    "differences",
    "duties",
    "least_rail_gap",
    "materials",
    "measured_target",
]
