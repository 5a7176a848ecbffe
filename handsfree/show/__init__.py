"""The visible parts: the bench display, the phrase card."""

from handsfree.show.card import phrase_card
from handsfree.show.letters import banner
from handsfree.show.plan_page import (
    Weight,
    answer_fault,
    check_plan,
    new_plan,
    new_plan_questions,
    show_plan,
    template_list,
)
from handsfree.show.view import BenchView, bench_view, change_lines, exchange_lines, grid_keys

__all__ = [
    "BenchView",
    "Weight",
    "answer_fault",
    "banner",
    "bench_view",
    "change_lines",
    "check_plan",
    "exchange_lines",
    "grid_keys",
    "new_plan",
    "new_plan_questions",
    "phrase_card",
    "show_plan",
    "template_list",
]
