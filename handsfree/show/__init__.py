"""The visible parts: the bench display, the phrase card."""

from handsfree.show.card import phrase_card
from handsfree.show.letters import banner
from handsfree.show.plan_page import (
    Weight,
    answer_fault,
    answer_faults,
    check_plan,
    new_plan,
    new_plan_questions,
    plan_rows,
    question_form,
    show_plan,
    template_list,
)
from handsfree.show.view import BenchView, bench_view, change_lines, exchange_lines, grid_keys

__all__ = [
    "BenchView",
    "Weight",
    "answer_fault",
    "answer_faults",
    "banner",
    "bench_view",
    "change_lines",
    "check_plan",
    "exchange_lines",
    "grid_keys",
    "new_plan",
    "new_plan_questions",
    "phrase_card",
    "plan_rows",
    "question_form",
    "show_plan",
    "template_list",
]
