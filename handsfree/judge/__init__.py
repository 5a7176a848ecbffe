"""What a reading means: short, good, over or uncertain, how much is left, and what to do."""

from handsfree.judge.reading import judge_between, judge_bound, judge_bounds, judge_reading
from handsfree.judge.verdict import Advice, Bounds, State, Verdict, difference

__all__ = [
    "Advice",
    "Bounds",
    "State",
    "Verdict",
    "difference",
    "judge_between",
    "judge_bound",
    "judge_bounds",
    "judge_reading",
]
