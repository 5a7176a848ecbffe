"""Judging readings: short, good, over or uncertain, the amount left, and the next step."""

from handsfree.judge.advice import (
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
from handsfree.judge.by_rule import Joint, certainty_of, judge_direct, judge_joint, judge_lash
from handsfree.judge.contradictions import Finding, Weight, findings
from handsfree.judge.filing import PassAdvice
from handsfree.judge.fitting import Closure, Fitting
from handsfree.judge.quantiles import chi_square_quantile, student_quantile
from handsfree.judge.reading import MOST_READINGS, SIMPLE, Disagreement
from handsfree.judge.sums import ShimChoice, judge_shim, sum_of_parts
from handsfree.judge.verdict import Bounds, State, Verdict, difference
from handsfree.judge.work import next_position, whats_left

__all__ = [
    "MOST_READINGS",
    "SIMPLE",
    "Bounds",
    "Closure",
    "Disagreement",
    "FiledPass",
    "Finding",
    "Fitting",
    "Joint",
    "PassAdvice",
    "ShimChoice",
    "State",
    "Verdict",
    "Weight",
    "bore_here",
    "bores_for",
    "certainty_of",
    "chi_square_quantile",
    "difference",
    "doubt",
    "findings",
    "heat_caution",
    "judge_direct",
    "judge_joint",
    "judge_lash",
    "judge_shim",
    "next_leaf",
    "next_pass",
    "next_position",
    "passes_like",
    "share_out",
    "student_quantile",
    "sum_of_parts",
    "whats_left",
]
