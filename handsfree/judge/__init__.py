"""What a reading means: short, good, over or uncertain, how much is left, and what to do."""

from handsfree.judge.aid import (
    FiledPass,
    bore_here,
    bores_for,
    doubt,
    heat_caution,
    next_leaf,
    next_pass,
    passes_like,
    share_out,
)
from handsfree.judge.closure import Closure, butting_rise, closure_mm, hot_gap
from handsfree.judge.filing import (
    Pace,
    Pass,
    PassAdvice,
    Rate,
    advise_pass,
    learn,
    removal_bound_mm,
    safe_turns,
)
from handsfree.judge.fitting import Fitting, Place, fit_rings, other_bores, predicted_gap_mm
from handsfree.judge.front import Joint, certainty_of, judge_direct, judge_joint, standard_mm
from handsfree.judge.guard import (
    Chances,
    acceptance_zone_mm,
    chances,
    guard_mm,
    interval_estimate_mm,
    sum_standard_mm,
)
from handsfree.judge.leaves import Stack, next_stack, stack_for, stacks
from handsfree.judge.reading import judge_between, judge_bound, judge_bounds, judge_reading
from handsfree.judge.repeats import Disagreement, disagreement, shrunk
from handsfree.judge.sums import ShimChoice, judge_parts, pick_shim, sum_of_parts
from handsfree.judge.verdict import Advice, Bounds, State, Verdict, difference
from handsfree.judge.work import Left, next_position, whats_left

__all__ = [
    "Advice",
    "Bounds",
    "Chances",
    "Closure",
    "Disagreement",
    "FiledPass",
    "Fitting",
    "Joint",
    "Left",
    "Pace",
    "Pass",
    "PassAdvice",
    "Place",
    "Rate",
    "ShimChoice",
    "Stack",
    "State",
    "Verdict",
    "acceptance_zone_mm",
    "advise_pass",
    "bore_here",
    "bores_for",
    "butting_rise",
    "certainty_of",
    "chances",
    "closure_mm",
    "difference",
    "disagreement",
    "doubt",
    "fit_rings",
    "guard_mm",
    "heat_caution",
    "hot_gap",
    "interval_estimate_mm",
    "judge_between",
    "judge_bound",
    "judge_bounds",
    "judge_direct",
    "judge_joint",
    "judge_parts",
    "judge_reading",
    "learn",
    "next_leaf",
    "next_pass",
    "next_position",
    "next_stack",
    "other_bores",
    "passes_like",
    "pick_shim",
    "predicted_gap_mm",
    "removal_bound_mm",
    "safe_turns",
    "share_out",
    "shrunk",
    "stack_for",
    "stacks",
    "standard_mm",
    "sum_of_parts",
    "sum_standard_mm",
    "whats_left",
]
